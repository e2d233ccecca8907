import type { Sensed } from '../../hub/model/quantity.ts'
import { amount, type Units, upTo } from './format.ts'
import { say, toSay } from './say.ts'

/** What a channel senses, in words; the wire's short names stand beside them. */
export const SENSED_WORDS: Readonly<Record<Sensed, string>> = {
  ph: toSay('pH, worked out by the probe'),
  'ph.emf': toSay('pH electrode, EMF'),
  vwc: toSay('volumetric water content'),
  'moist.raw': toSay('moisture, raw'),
  permittivity: toSay('relative permittivity'),
  'temp.soil': toSay('soil temperature'),
  'temp.air': toSay('air temperature'),
  'rh.air': toSay('air humidity'),
  ec: toSay('electrical conductivity'),
  tension: toSay('soil water tension'),
  bat: toSay('battery'),
  rssi: toSay('radio signal'),
  other: toSay('something else'),
}

/** A value that a probe sent, in the gardener's unit where there is another. */
export function sentWords(value: number, unit: string, units: Units): string {
  if (unit === 'Cel') return amount('temperature', value, units)
  return `${upTo(value, 2, units)} ${unitWords(unit)}`.trim()
}

/** A unit of the wire format as people write it. */
export function unitWords(unit: string): string {
  const words: Readonly<Record<string, string>> = {
    Cel: '°C',
    '/': '',
    '/100': '%',
    '%EL': '%',
    count: say`counts`,
  }
  return Object.hasOwn(words, unit) ? words[unit]! : unit
}
