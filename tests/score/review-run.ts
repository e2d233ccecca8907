import { study } from '#hub/analysis/study.ts'
import { DAY } from '#hub/model/clock.ts'
import { reviewBed } from '#hub/planning/review.ts'
import { MONTH_MS } from '#hub/planning/review/ph-months.ts'
import type { Random } from '#hub/simulator/random.ts'
import { responseShare } from '#hub/simulator/soil.ts'
import { factsOf, treated } from '../hub/planning/facts.ts'
import type { Measures } from './jobs.ts'
import { studiedFrom } from './planned-bed.ts'
import { type RESPONSE_CASES, responseSeries } from './series.ts'

const yes = (is: boolean): number => (is ? 1 : 0)

/**
 * One treated bed looked back on from end to end, its journal, its days and those of an untreated bed: whether the
 * half-life and the pH months that the review tells hold the truth.
 */
export function reviewRun(random: Random, one: (typeof RESPONSE_CASES)[number]): Measures {
  const {
    treated: treatedBed,
    control,
    doseAt,
    endAt,
    truth,
    response,
  } = responseSeries(random, one)
  const toward = truth.peakPh > 0 ? 1 : -1
  const material = toward > 0 ? 'ground limestone' : 'sulfur'
  const journal = [treated(material, (endAt - doseAt) / DAY, 1000, endAt)]
  const known = factsOf({ at: endAt, journal, soilC: null })
  const others = control === null ? [] : [studiedFrom({ ...known.bed, id: 2 }, control, [])]
  const found = study(
    studiedFrom(known.bed, treatedBed, known.journal),
    others,
    { events: [], visits: new Map(), band: null, yearFrom: 0 },
    endAt,
  )
  const facts = { ...known, study: found }
  const [seen] = reviewBed(facts).treatments
  if (seen === undefined || seen.effect === null) return { told: 0 }
  const { effect, phMonths, worked } = seen
  const measures: Record<string, number> = { told: 1, worked: yes(worked === 'yes') }
  const { halfLife } = effect
  if (halfLife.kind === 'known') {
    const { low, high } = halfLife.days
    measures['halfCovered'] = yes(
      (low === null || low <= truth.halfDays) && (high === null || truth.halfDays <= high),
    )
  }
  if (halfLife.kind === 'at least') measures['halfCovered'] = yes(truth.halfDays >= halfLife.days)
  if (phMonths !== null) {
    const days = (endAt - doseAt) / DAY
    let gained = 0
    for (let day = 0; day < days; day++) gained += responseShare(response, day + 0.5)
    const months = (Math.abs(truth.peakPh) * gained * DAY) / MONTH_MS
    measures['monthsCovered'] = yes(phMonths.low <= months && months <= phMonths.high)
    measures['monthsError'] = Math.abs(phMonths.value / months - 1)
  }
  return measures
}
