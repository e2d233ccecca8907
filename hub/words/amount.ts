import { figure, fixed } from './figure.ts'
import { say, units } from './say.ts'

/*
 * Amounts in the units of the garden. They come as SI and are rounded where they are said, so that nothing is reckoned
 * on with a rounded figure. US sizes are the exact international definitions (NIST Handbook 44, appendices B and C).
 */

/** An amount from one thing to another; SI. */
interface Range {
  readonly low: number
  readonly high: number
}

const OUNCE_G = 28.349523125
const POUND_G = 16 * OUNCE_G
const INCH_M = 0.0254
const FOOT_M = 12 * INCH_M
const GALLON_L = 3.785411784
/** Ground on which rates are told, m2: labels and tables in the US print pounds on a hundred square feet. */
const GROUND_US_M2 = 100 * FOOT_M ** 2

/** '5 g', '1.25 kg', '0.18 oz', '5.1 oz', '2.76 lb' from two pounds on: as much as is sensible to say. */
export function massText(grams: number): string {
  return inMass(grams, Math.round)
}

/** An amount that is to be put on: what is said is never more than what was reckoned. */
export function portionText(grams: number): string {
  return inMass(grams, down)
}

/** What arithmetic left a hair below a whole step stays whole. */
const down = (steps: number): number => Math.floor(steps + 1e-6)

function inMass(grams: number, whole: (steps: number) => number): string {
  const to = (value: number, decimals: number): string =>
    figure(whole(value * 10 ** decimals) / 10 ** decimals, decimals)
  if (units() === 'us') {
    const ounces = grams / OUNCE_G
    if (ounces < 31.95) return `${to(ounces, ounces < 1.995 ? 2 : 1)} oz`
    return pounds(grams, whole)
  }
  if (grams < 9.95) return `${to(grams, 1)} g`
  return grams < 999.5 ? `${to(grams, 0)} g` : `${to(grams / 1000, 2)} kg`
}

function pounds(grams: number, whole: (steps: number) => number): string {
  const value = grams / POUND_G
  // What is weighed out is told to the hundredth; of the rest three digits say enough.
  const decimals = value < 0.095 ? 3 : whole === down || value < 9.995 ? 2 : value < 99.95 ? 1 : 0
  const by = 10 ** decimals
  return `${figure(whole(value * by) / by, decimals)} lb`
}

/** '290 to 520 g' */
export function massRange({ low, high }: Range): string {
  return spanOf(massText(low), massText(high))
}

/** The unit that small amounts are weighed in. */
export const weighed = (): string => (units() === 'us' ? 'oz' : 'g')

/** How much lies on the ground of which `onGround` speaks: '290 g' of a square metre, '5.9 lb' of a hundred square feet. */
export function groundMass(gM2: number): string {
  return units() === 'us' ? pounds(gM2 * GROUND_US_M2, Math.round) : massText(gM2)
}

/** The same of what must not be more. */
export function groundPortion(gM2: number): string {
  return units() === 'us' ? pounds(gM2 * GROUND_US_M2, down) : portionText(gM2)
}

/** From one such amount to another. */
export function groundRange({ low, high }: Range): string {
  return spanOf(groundMass(low), groundMass(high))
}

/** The ground for `groundMass`, behind a mass: '… of lime a square metre'. */
export function onGround(): string {
  return units() === 'us' ? say`on 100 square feet` : say`a square metre`
}

/** The same where something lies below it. */
export function underGround(): string {
  return units() === 'us' ? say`under 100 square feet` : say`under a square metre`
}

/** '25 cm', '10 in' */
export function depthText(m: number): string {
  return units() === 'us' ? `${figure(m / INCH_M, 1)} in` : `${Math.round(100 * m)} cm`
}

/** A depth that nobody measured: '15 cm', '6 in'. */
export function aboutDepth(m: number): string {
  return units() === 'us' ? `${Math.round(m / INCH_M)} in` : depthText(m)
}

/** '2.4 m²', '25.8 sq ft' */
export function areaText(m2: number): string {
  return units() === 'us' ? `${figure(m2 / FOOT_M ** 2, 1)} sq ft` : `${figure(m2, 2)} m²`
}

/** '8.5 L', '12 L', '2.2 gal' */
export function volumeText(litres: number): string {
  return units() === 'us' ? `${rough(litres / GALLON_L)} gal` : `${rough(litres)} L`
}

/** A layer of water: '7.2 mm', '0.28 in'. */
export function layerText(mm: number): string {
  if (units() === 'metric') return `${rough(mm)} mm`
  return `${figure(mm / (1000 * INCH_M), 2)} in`
}

/** '8.4 °C', '47.1 °F', with so many decimals at the most. */
export function temperatureText(celsius: number, decimals = 0): string {
  return units() === 'us'
    ? `${figure(1.8 * celsius + 32, decimals)} °F`
    : `${figure(celsius, decimals)} °C`
}

/** How far apart two temperatures may be: '0.5 °C', '0.9 °F'. */
export function temperatureSpan(kelvin: number): string {
  return units() === 'us' ? `${figure(1.8 * kelvin, 1)} °F` : `${figure(kelvin, 1)} °C`
}

/** The same in whole degrees, without their sign: '5', '9'. */
export const degreesApart = (kelvin: number): string =>
  fixed(units() === 'us' ? 1.8 * kelvin : kelvin, 0)

/** How dense dry soil lies: '1100 kg' in a cubic metre, '36.7 oz' in a quart. */
export const densityMass = (kgM3: number): string =>
  units() === 'us' ? `${figure((kgM3 * GALLON_L) / 4 / OUNCE_G, 1)} oz` : `${Math.round(kgM3)} kg`

/** The room of `densityMass`, behind a mass: '… of dry soil in a cubic metre'. */
export function inRoom(): string {
  return units() === 'us' ? say`in a quart` : say`in a cubic metre`
}

/** Two amounts as one span; a unit that both have is said once. */
export function spanOf(from: string, to: string): string {
  const unit = to.slice(to.indexOf(' '))
  return say`${from.endsWith(unit) ? from.slice(0, -unit.length) : from} to ${to}`
}

function rough(value: number): string {
  return figure(value, Math.abs(value) < 9.95 ? 1 : 0)
}
