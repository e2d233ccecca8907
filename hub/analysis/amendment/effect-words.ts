import type { Insufficient } from '../assessment.ts'
import { listed } from '../format.ts'
import type { DoseEffect, Span } from './dose-effect.ts'

type Worded = Omit<DoseEffect, 'sentence' | 'grounds'>

/** What was found, how sure it is, what comes next. */
export function effectSentence(effect: Worded, controls: readonly string[]): string {
  const what = named(effect.material)
  const against =
    effect.question === 'advantage over untreated'
      ? `against ${controls.length > 0 ? listed(controls) : 'the untreated bed'}`
      : 'against where the bed was before'
  if (effect.verdict === 'no measurable effect') {
    const most = (Math.ceil(effect.notLargerThan! * 100) / 100).toFixed(2)
    return `${what}: no measurable effect ${against}; if there is one, it is not larger than ${most} pH.`
  }
  const peak = effect.peak!
  const verb = peak.value! > 0 ? 'raised' : 'lowered'
  const parts = [
    `${what} ${verb} the pH by ${size(peak)} ${against}.`,
    peakWords(effect),
    halfWords(effect),
  ]
  return parts.filter((part) => part !== '').join(' ')
}

export function tooFewSentence(
  material: string,
  { have, need }: Insufficient,
  controls: readonly string[],
): string {
  const beds = controls.length > 0 ? ` shared with ${listed(controls)}` : ''
  // The days before a treatment are over; those after it are still to come.
  const state = have.endsWith('before it') ? 'what it did cannot be told' : 'too early to say'
  return `${named(material)}: ${state}. There are ${have}${beds}; needed are ${need}.`
}

function peakWords({ peakDays: days, halfLife }: Worded): string {
  if (days === null) return 'How far it goes shows after 12 weeks.'
  // A course that comes to rest without going back has no highest day either.
  if (days.value === null) return halfLife.kind === 'at least' ? '' : 'It is still moving.'
  const high = days.high === null ? 'or later' : `to ${Math.round(days.high)}`
  return `It was farthest ${Math.round(days.value)} days after (${Math.round(days.low!)} ${high}).`
}

function halfWords({ halfLife, present }: Worded): string {
  if (halfLife.kind === 'at least') {
    return `It has not turned: half of it stays at least ${halfLife.days} days from there; go on measuring.`
  }
  if (halfLife.kind === 'unknown') return ''
  const { value, low, high } = halfLife.days
  const early = halfLife.early ? ' This is early: less than half is gone yet.' : ''
  const left = ` Now ${size(present!)} pH is left.`
  return `Half of it is gone ${Math.round(value!)} days later (${Math.round(low!)} to ${Math.round(high!)}).${left}${early}`
}

/** Size without sign: '0.62 (0.51 to 0.73)'; with sign where the interval spans zero. */
function size({ value, low, high }: Span): string {
  const [a, b, v] = [low!, high!, value!]
  if (a < 0 && b > 0) return `${v.toFixed(2)} (${a.toFixed(2)} to ${b.toFixed(2)})`
  const [small, large] = [Math.abs(a), Math.abs(b)].toSorted((x, y) => x - y)
  return `${Math.abs(v).toFixed(2)} (${small!.toFixed(2)} to ${large!.toFixed(2)})`
}

function named(material: string): string {
  return material.charAt(0).toUpperCase() + material.slice(1)
}
