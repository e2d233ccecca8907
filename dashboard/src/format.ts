import type { AlarmKind, AlarmState } from '../../hub/model/alarm.ts'
import type { JournalKind } from '../../hub/model/journal.ts'
import type { Quantity } from '../../hub/model/quantity.ts'
import type { BedView } from '../../hub/api/schemas/bed.ts'
import { language, say, toSay } from './say.ts'

/** The gardener's choice of units. */
export type Units = 'metric' | 'us'
/** Kinds of amount, each stored in one unit: g, L, m, m2, degrees Celsius; a layer of water in mm. */
export type Amount = 'mass' | 'volume' | 'depth' | 'area' | 'temperature' | 'layer'

interface Unit {
  readonly name: string
  /** Stored units in one shown unit. */
  readonly size: number
  /** Stored value at shown zero. */
  readonly zero: number
  /** Decimals worth showing. */
  readonly decimals: number
}

/**
 * US sizes are the exact international definitions: avoirdupois ounce 28.349523125 g, US gallon 231 cubic
 * inches = 3.785411784 L, inch 25.4 mm, hence square foot 0.09290304 m2 (NIST Handbook 44, appendix C).
 */
const UNITS: Readonly<Record<Units, Readonly<Record<Amount, Unit>>>> = {
  metric: {
    mass: { name: 'g', size: 1, zero: 0, decimals: 0 },
    volume: { name: 'L', size: 1, zero: 0, decimals: 1 },
    depth: { name: 'cm', size: 0.01, zero: 0, decimals: 1 },
    area: { name: 'm²', size: 1, zero: 0, decimals: 2 },
    temperature: { name: '°C', size: 1, zero: 0, decimals: 1 },
    layer: { name: 'mm', size: 1, zero: 0, decimals: 0 },
  },
  us: {
    mass: { name: 'oz', size: 28.349523125, zero: 0, decimals: 1 },
    volume: { name: 'gal', size: 3.785411784, zero: 0, decimals: 2 },
    depth: { name: 'in', size: 0.0254, zero: 0, decimals: 1 },
    area: { name: 'sq ft', size: 0.09290304, zero: 0, decimals: 1 },
    temperature: { name: '°F', size: 5 / 9, zero: (-32 * 5) / 9, decimals: 1 },
    layer: { name: 'in', size: 25.4, zero: 0, decimals: 2 },
  },
}

export const unitName = (amount: Amount, units: Units): string => UNITS[units][amount].name
/** From the stored SI value to the gardener's unit. */
export function toShown(amount: Amount, stored: number, units: Units): number {
  const { size, zero } = UNITS[units][amount]
  return (stored - zero) / size
}
/** From the gardener's unit to the stored SI value. */
export function toStored(amount: Amount, shown: number, units: Units): number {
  const { size, zero } = UNITS[units][amount]
  return shown * size + zero
}

/** How numbers and dates are written: in the language of the pages; in English it goes with the units. */
export function localeOf(units: Units): string {
  switch (language()) {
    case 'de':
      return 'de-DE'
    case 'es':
      return 'es-ES'
    case 'en':
      return units === 'us' ? 'en-US' : 'en-GB'
  }
}

const numberFormats = new Map<string, Intl.NumberFormat>()
function numberFormat(units: Units, least: number, most: number): Intl.NumberFormat {
  const locale = localeOf(units)
  const key = `${locale} ${least} ${most}`
  let format = numberFormats.get(key)
  if (format === undefined) {
    format = new Intl.NumberFormat(locale, {
      minimumFractionDigits: least,
      maximumFractionDigits: most,
    })
    numberFormats.set(key, format)
  }
  return format
}

/** A number with exactly `decimals` decimals; a dash where nothing is known. */
export function num(value: number | null | undefined, decimals: number, units: Units): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return '–'
  const text = numberFormat(units, decimals, decimals).format(value)
  return /^-0([.,]0*)?$/.test(text) ? text.slice(1) : text.replace('-', '−')
}
/** A number with no more than `most` decimals and no idle zeros. */
export function upTo(value: number, most: number, units: Units): string {
  return numberFormat(units, 0, most).format(value).replace('-', '−')
}
/** A whole number with separators. */
export const whole = (value: number, units: Units): string => num(value, 0, units)

/** An amount in the gardener's unit, with its name, at most the decimals worth showing. */
export function amount(kind: Amount, stored: number, units: Units): string {
  const unit = UNITS[units][kind]
  const text = numberFormat(units, 0, unit.decimals).format(toShown(kind, stored, units))
  return `${text.replace('-', '−')} ${unit.name}`
}

/** How long ago, in words. */
export function age(at: number, now: number): string {
  const s = Math.round((now - at) / 1000)
  if (s < 5) return say`just now`
  if (s < 60) return say`${s} s ago`
  const min = Math.round(s / 60)
  if (min < 60) return say`${min} min ago`
  const h = Math.round(min / 60)
  if (h < 36) return say`${h} h ago`
  const days = Math.round(h / 24)
  return days < 60 ? say`${days} days ago` : say`${Math.round(days / 30.44)} months ago`
}

/** A length of time in words, for intervals a probe announces. */
export function span(seconds: number): string {
  if (seconds < 120) return say`${seconds} s`
  if (seconds < 7200) return say`${Math.round(seconds / 60)} min`
  return say`${Math.round(seconds / 3600)} h`
}

interface Where {
  readonly zone: string
  readonly units: Units
}
const dateFormats = new Map<string, Intl.DateTimeFormat>()
function dateFormat(
  { zone, units }: Where,
  name: string,
  options: Intl.DateTimeFormatOptions,
): Intl.DateTimeFormat {
  const locale = localeOf(units)
  const key = `${zone} ${locale} ${name}`
  let format = dateFormats.get(key)
  if (format === undefined) {
    format = new Intl.DateTimeFormat(locale, { timeZone: zone, ...options })
    dateFormats.set(key, format)
  }
  return format
}
/** Date and time on the garden's clock. */
export function dateTime(at: number, where: Where): string {
  return dateFormat(where, 'dt', {
    day: 'numeric',
    month: 'short',
    year: 'numeric',
    hour: '2-digit',
    minute: '2-digit',
  }).format(at)
}
export function dateOnly(at: number, where: Where): string {
  return dateFormat(where, 'd', { day: 'numeric', month: 'short', year: 'numeric' }).format(at)
}
export function clockTime(at: number, where: Where): string {
  return dateFormat(where, 't', { hour: '2-digit', minute: '2-digit' }).format(at)
}

/** Where a bed stands against its band, in words. */
export function standingWords(bed: Pick<BedView, 'standing' | 'band'>): string {
  switch (bed.standing) {
    case 'in band':
      return say`within its band`
    case 'below':
      return say`below its band: too acid`
    case 'above':
      return say`above its band: too alkaline`
    case 'unsure':
      return say`too near the edge to tell`
    case 'unknown':
      return bed.band.band === null ? say`no band to hold it against` : say`not known yet`
  }
}

export const JOURNAL_WORDS: Readonly<Record<JournalKind, string>> = {
  treatment: toSay('Treatment'),
  irrigation: toSay('Watering'),
  service: toSay('Probe service'),
  sample: toSay('Sample'),
  note: toSay('Note'),
}
export const ALARM_WORDS: Readonly<Record<AlarmKind, string>> = {
  'harmful-shift': toSay('Harmful shift'),
  'early-warning': toSay('Early warning'),
  'drift-out': toSay('Drifting out of its band'),
  'out-of-band': toSay('Out of its band'),
  dry: toSay('Dry soil'),
  waterlogged: toSay('Waterlogged'),
  'probe-check': toSay('Probe check'),
  'probe-silent': toSay('Probe silent'),
  'calibration-due': toSay('Calibration due'),
  'battery-low': toSay('Battery low'),
  'hub-trouble': toSay('Trouble of the hub'),
}
/** On which chart an alarm is marked; null: it is about no quantity of a bed. */
export const ALARM_CHARTS: Readonly<Record<AlarmKind, Quantity | null>> = {
  'harmful-shift': 'ph',
  'early-warning': 'ph',
  'drift-out': 'ph',
  'out-of-band': 'ph',
  dry: 'moisture',
  waterlogged: 'moisture',
  'probe-check': null,
  'probe-silent': null,
  'calibration-due': null,
  'battery-low': null,
  'hub-trouble': null,
}
export const ALARM_STATE_WORDS: Readonly<Record<AlarmState, string>> = {
  normal: toSay('over'),
  unacknowledged: toSay('not acknowledged'),
  acknowledged: toSay('acknowledged'),
  returned: toSay('back to normal, not acknowledged'),
}
