import { amendmentEffect } from '#hub/analysis/amendment/amendment-effect.ts'
import type { Span } from '#hub/analysis/amendment/dose-effect.ts'
import { DAY } from '#hub/model/clock.ts'
import type { Random } from '#hub/simulator/random.ts'
import type { Measures } from './jobs.ts'
import { type RESPONSE_CASES, responseSeries } from './series.ts'

const yes = (is: boolean): number => (is ? 1 : 0)

/** Whether a span, widened by so many days on both sides, holds the truth; an open end holds everything. */
function holds(span: Span | null, truth: number, slack: number): number {
  if (span === null) return NaN
  const { low, high } = span
  return yes((low === null || low - slack <= truth) && (high === null || truth <= high + slack))
}

/** One treated bed: what is said of its half-life, its highest point, its beginning, against the truth. */
export function responseRun(random: Random, one: (typeof RESPONSE_CASES)[number]): Measures {
  const { treated, control, doseAt, endAt, truth } = responseSeries(random, one)
  const result = amendmentEffect(
    treated,
    control,
    [{ id: 1, at: doseAt, material: truth.peakPh > 0 ? 'ground limestone' : 'elemental sulfur' }],
    { at: endAt },
  )
  const effect = result.status === 'ok' ? result.doses[0] : undefined
  if (effect === undefined || effect.verdict === 'insufficient') return { told: 0 }
  const { halfLife, peak, onsetDays, peakDays } = effect
  const measures: Record<string, number> = {
    told: yes(effect.verdict === 'effect'),
    peakCovered: holds(peak, truth.peakPh, 0),
    onsetCovered: holds(onsetDays, truth.lagDays, 7),
    peakDayCovered: holds(peakDays, truth.lagDays + truth.peakDay, 7),
    halvesSeen: (endAt - doseAt) / DAY / truth.halfDays,
  }
  if (peak !== null && peak.value !== null) {
    measures['peakError'] = Math.abs(peak.value - truth.peakPh)
  }
  if (halfLife.kind === 'known') {
    const { value, low, high } = halfLife.days
    measures['atLeast'] = 0
    measures['halfCovered'] = holds(halfLife.days, truth.halfDays, 0)
    if (value !== null) measures['halfError'] = Math.abs(Math.log(value / truth.halfDays))
    if (low !== null && high !== null) measures['halfRatio'] = high / low
  }
  if (halfLife.kind === 'at least') {
    measures['atLeast'] = 1
    measures['atLeastTrue'] = yes(truth.halfDays >= halfLife.days)
    measures['halfCovered'] = measures['atLeastTrue']
  }
  return measures
}
