import type { DailySeries } from '#hub/analysis/aggregate/daily-series.ts'
import { DAY } from '#hub/model/clock.ts'
import type { Plan } from '#hub/model/plan.ts'
import { bufferingOf } from '#hub/planning/buffering.ts'
import { draftPlan } from '#hub/planning/draft.ts'
import { followPlan } from '#hub/planning/follow.ts'
import { needOf } from '#hub/planning/need.ts'
import { optionsFor } from '#hub/planning/options.ts'
import { bedGround } from '#hub/simulator/bed-ground.ts'
import type { Random } from '#hub/simulator/random.ts'
import { responseShare } from '#hub/simulator/soil.ts'
import { factsOf, sampleOf, treated } from '../hub/planning/facts.ts'
import type { Measures } from './jobs.ts'
import { noise, SERIES_START_MS } from './series.ts'

/** What it truly takes for one pH, over what the plan takes it to be. */
export const PORTION_CASES = [
  { name: 'buffering x 0.6', truly: 0.6 },
  { name: 'buffering as thought', truly: 1 },
  { name: 'buffering x 1.6', truly: 1.6 },
] as const

/** Days before the first portion, and from it to the day the second one is reckoned. */
const BEFORE = 45
const AFTER = 190
const BASE_PH = 5.4
const MATERIAL = 'ground-limestone'
/** The bag says so. */
const STRENGTH = 0.9

/**
 * A plan of limestone for a bed whose soil is not as its texture says: what is told of the second portion after the
 * first one has shown what it does.
 */
export function portionRun(random: Random, { truly }: (typeof PORTION_CASES)[number]): Measures {
  const held = random.chance(0.5)
  const startMs = SERIES_START_MS + Math.floor(random.between(0, 365)) * DAY
  const doseAt = startMs + BEFORE * DAY
  const shared = bedGround(
    random.split('ground'),
    { startMs, days: BEFORE + AFTER, basePh: 0 },
    [],
  ).ph
  const undisturbed = (): Float64Array => {
    const own = noise(random, BEFORE + AFTER, 0.05, Math.exp(-1 / 15))
    const shown = noise(random, BEFORE + AFTER, 0.05 / Math.sqrt(3), Math.exp(-1 / 10))
    return own.map((value, d) => {
      const day = shared.subarray(d * 96, (d + 1) * 96)
      return BASE_PH + value + shown[d]! + day.reduce((sum, ph) => sum + ph, 0) / day.length
    })
  }
  const quiet = undisturbed()
  const plan = planFor(quiet.slice(0, BEFORE), doseAt)
  const [first, second] = plan.stages
  if (first === undefined || second === undefined) return { told: 0 }
  const full = (amountG: number): number => (first.change.typical * amountG) / first.amountG / truly
  const course = {
    peakPh: full(first.amountG),
    lagDays: random.between(0, 20),
    riseHalfDays: random.between(20, 50),
    returnHalfDays: Math.exp(random.between(Math.log(700), Math.log(2500))),
  }
  const bed = quiet.map((ph, d) => ph + course.peakPh * responseShare(course, d + 0.5 - BEFORE))
  const at = doseAt + AFTER * DAY
  const facts = factsOf({
    bed: { areaM2: AREA_M2, ownBand: BAND },
    at,
    ph: Array.from(bed),
    soilC: null,
    journal: [treated('ground limestone', AFTER, first.amountG, at)],
    study: held
      ? {
          control: {
            status: 'ok',
            series: daysOf(undisturbed(), startMs),
            bedIds: [2],
            beds: ['Otter Bed'],
            reason: '',
          },
        }
      : {},
  })
  const { measured, next, answers, verdict } = followPlan(facts, plan)
  const truth = course.peakPh * responseShare(course, AFTER - 7)
  const measures: Record<string, number> = {
    told: 1,
    held: held ? 1 : 0,
    next: next === null ? 0 : 1,
    stopped: verdict === 'more than expected' ? 1 : 0,
  }
  if (measured !== null) {
    measures[held ? 'heldCovered' : 'aloneCovered'] =
      measured.low <= truth && truth <= measured.high ? 1 : 0
    measures[held ? 'heldWidth' : 'aloneWidth'] = (measured.high - measured.low) / 2
  }
  if (answers !== null) {
    measures['answerCovered'] = answers.low <= 1 / truly && 1 / truly <= answers.high ? 1 : 0
    measures['answerRatio'] = answers.high / answers.low
    measures['answerBelow'] = answers.low > 1 / truly ? 1 : 0
  }
  if (next !== null) {
    const truth2 = full(next.amountG)
    measures['nextCovered'] = next.change.low <= truth2 && truth2 <= next.change.high ? 1 : 0
    measures['nextLarger'] = next.amountG > second.amountG ? 1 : 0
  }
  return measures
}

const AREA_M2 = 10
const BAND = { low: 6.6, high: 7.4 }

function daysOf(value: Float64Array, startMs: number): DailySeries {
  return {
    day: Float64Array.from(value, (_, d) => startMs + d * DAY),
    value,
    se: new Float64Array(value.length).fill(0.08),
  }
}

/** The plan as the planner makes it on that day, by the texture alone. */
function planFor(ph: Float64Array, at: number): Plan {
  const facts = factsOf({
    bed: { areaM2: AREA_M2, ownBand: BAND },
    at,
    ph: Array.from(ph),
    soilC: null,
    season: { from: '01-01', to: '12-31' },
    journal: [sampleOf(ph.at(-1)!, 2, at)],
  })
  const need = needOf(facts, null)
  const buffering = bufferingOf(facts, 'raise')
  const option = optionsFor(facts, need, buffering).find(({ material }) => material === MATERIAL)!
  const draft = draftPlan(facts, need, buffering, option, STRENGTH)
  if ('refused' in draft) throw new Error(draft.refused.map(({ sentence }) => sentence).join(' '))
  const [first, ...later] = draft.plan.stages
  return {
    ...draft.plan,
    id: 1,
    createdAt: at,
    closedAt: null,
    ending: null,
    stages: [{ ...first!, entryId: 1 }, ...later],
  }
}
