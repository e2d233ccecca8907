import type { Insufficient } from '../assessment.ts'
import type { DoseEffect, Span } from './dose-effect.ts'
import { fixed, listed } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

type Worded = Omit<DoseEffect, 'sentence' | 'grounds'>

/** What was found, how sure it is, what comes next. */
export function effectSentence(effect: Worded, controls: readonly string[]): string {
  const what = named(effect.material)
  const against =
    effect.question === 'advantage over untreated'
      ? say`against ${controls.length > 0 ? listed(controls) : say`the untreated bed`}`
      : say`against where the bed was before`
  if (effect.verdict === 'no measurable effect') {
    const most = fixed(Math.ceil(effect.notLargerThan! * 100) / 100, 2)
    return say`${what}: no measurable effect ${against}; if there is one, it is not larger than ${most} pH.`
  }
  const peak = effect.peak!
  const parts = [
    peak.value! > 0
      ? say`${what} raised the pH by ${size(peak)} ${against}.`
      : say`${what} lowered the pH by ${size(peak)} ${against}.`,
    peakWords(effect),
    halfWords(effect),
  ]
  return parts.filter((part) => part !== '').join(' ')
}

export function tooFewSentence(
  material: string,
  { have, need }: Insufficient,
  controls: readonly string[],
  lacks: 'before' | 'after',
): string {
  const beds = controls.length > 0 ? ` ${say`shared with ${listed(controls)}`}` : ''
  // The days before a treatment are over; those after it are still to come.
  const state = lacks === 'before' ? say`what it did cannot be told` : say`too early to say`
  return say`${named(material)}: ${state}. There are ${have}${beds}; needed are ${need}.`
}

function peakWords({ peakDays: days, halfLife }: Worded): string {
  if (days === null) return say`How far it goes shows after 12 weeks.`
  // A course that comes to rest without going back has no highest day either.
  if (days.value === null) return halfLife.kind === 'at least' ? '' : say`It is still moving.`
  return days.high === null
    ? say`It was farthest ${Math.round(days.value)} days after (${Math.round(days.low!)} or later).`
    : say`It was farthest ${Math.round(days.value)} days after (${Math.round(days.low!)} to ${Math.round(days.high)}).`
}

function halfWords({ halfLife, present }: Worded): string {
  if (halfLife.kind === 'at least') {
    return say`It has not turned: half of it stays at least ${halfLife.days} days from there; go on measuring.`
  }
  if (halfLife.kind === 'unknown') return ''
  const { value, low, high } = halfLife.days
  const early = halfLife.early ? ` ${say`This is early: less than half is gone yet.`}` : ''
  const left = ` ${say`Now ${size(present!)} pH is left.`}`
  return say`Half of it is gone ${Math.round(value!)} days later (${Math.round(low!)} to ${Math.round(high!)}).${left}${early}`
}

/** Size without sign: '0.62 (0.51 to 0.73)'; with sign where the interval spans zero. */
function size({ value, low, high }: Span): string {
  const [a, b, v] = [low!, high!, value!]
  if (a < 0 && b > 0) return say`${fixed(v, 2)} (${fixed(a, 2)} to ${fixed(b, 2)})`
  const [small, large] = [Math.abs(a), Math.abs(b)].toSorted((x, y) => x - y)
  return say`${fixed(Math.abs(v), 2)} (${fixed(small!, 2)} to ${fixed(large!, 2)})`
}

function named(material: string): string {
  const text = said(material)
  return text.charAt(0).toUpperCase() + text.slice(1)
}
