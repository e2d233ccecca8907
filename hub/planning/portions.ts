import type { Dosing } from '../agronomy/dosing.ts'
import { DAY } from '../model/clock.ts'
import type { Range } from '../model/plan.ts'
import type { BedFacts } from './bed-facts.ts'
import { capsOn, stepLimits } from './limits.ts'

/** Portions that move the bed by less are not worth the work: it lies within what can be measured, pH. */
export const LEAST_STEP_PH = 0.05
/** A rest smaller than this is left: by then the bed is inside its band, and no measuring tells so little, pH. */
export const LEAST_REST_PH = 0.1
const YEAR_MS = 365 * DAY

/** Something of this direction that lies in the year before a portion. */
export interface EarlierPortion {
  readonly at: number
  readonly slug: string
  /** Of the product, g/m2; null when it was not written down. */
  readonly gM2: number | null
  /** What it did as far as it is likely, size in pH. */
  readonly movedPh: number
}

export interface PortionAsk {
  readonly dosing: Dosing
  /** Pure calcium carbonate, g/m2 for one pH. */
  readonly buffering: Range
  /** g of calcium carbonate per g of the product. */
  readonly strength: Range
  /** Size of the way that is left, pH. */
  readonly left: number
  /** Size of the way to the far edge of the band, pH: not even the worst case leads past it. */
  readonly room: number
  /** The first portion is begun from the low half of the range. */
  readonly first: boolean
  /** Day on which it goes on, epoch ms. */
  readonly at: number
  readonly earlier: readonly EarlierPortion[]
}

export interface Portion {
  /** Of the product on the whole bed, g, as kitchen scales show it; 0 when nothing may go on that day. */
  readonly amountG: number
  /** What it moves at its fullest, size in pH. */
  readonly change: Range
  /** What kept it from being larger. */
  readonly held: 'way left' | 'step' | 'worst case' | 'year' | 'cap'
}

/** One portion: as much as is left to go, within every limit, rounded down. */
export function portionOf(facts: BedFacts, ask: PortionAsk): Portion {
  const { dosing, buffering, strength, left, room, first, at, earlier } = ask
  const limits = stepLimits(dosing.slug)
  const year = earlier.filter((one) => one.at > at - YEAR_MS && one.at <= at)
  const moved = year.reduce((sum, one) => sum + one.movedPh, 0)
  const start = first ? Math.sqrt(buffering.low * buffering.typical) : buffering.typical
  const most: [Portion['held'], number][] = [
    ['way left', (left * start) / strength.typical],
    ['step', (limits.likely * start) / strength.typical],
    ['worst case', (Math.min(limits.worst, Math.max(0, room)) * buffering.low) / strength.high],
    ['year', (Math.max(0, limits.year - moved) * buffering.typical) / strength.typical],
    ...capsOn(facts, dosing, at).map(({ gM2, per }): [Portion['held'], number] => [
      'cap',
      per === 'application' ? gM2 : Math.max(0, gM2 - putOn(year, dosing.slug, gM2)),
    ]),
  ]
  const [held, gM2] = most.reduce((least, one) => (one[1] < least[1] ? one : least))
  const amountG = roundedDown(gM2 * facts.bed.areaM2)
  return { amountG, change: changeOf(amountG / facts.bed.areaM2, buffering, strength), held }
}

/** What so much of a product does to the pH, size: least, likely, most. */
export function changeOf(gM2: number, buffering: Range, strength: Range): Range {
  return {
    low: (gM2 * strength.low) / buffering.high,
    typical: (gM2 * strength.typical) / buffering.typical,
    high: (gM2 * strength.high) / buffering.low,
  }
}

/** To what kitchen scales show: 5 g, 10 g above 200 g, 50 g above 2 kg; never up. */
export function roundedDown(grams: number): number {
  if (!(grams > 0)) return 0
  const step = grams >= 2000 ? 50 : grams >= 200 ? 10 : 5
  // A whole number of steps that arithmetic left a hair below itself stays whole.
  return Math.floor(grams / step + 1e-9) * step
}

/** An amount that was not written down counts as all that was allowed. */
function putOn(year: readonly EarlierPortion[], slug: string, cap: number): number {
  return year.reduce((sum, one) => sum + (one.slug === slug ? (one.gM2 ?? cap) : 0), 0)
}
