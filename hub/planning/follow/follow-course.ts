import type { Dosing } from '../../agronomy/dosing.ts'
import { DAY } from '../../model/clock.ts'
import type { Plan } from '../../model/plan.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Follow } from '../follow.ts'
import { levelBetween } from './level-between.ts'
import { predictedChange, type PutOn } from './predicted-change.ts'

const WEEK_MS = 7 * DAY
const LONGEST_COURSE_MS = 3 * 365 * DAY
const LEAST_DAYS = 5

/** What would go on from now on if all goes as it should: nothing once nothing comes next. */
function stillAhead(plan: Plan, next: Follow['next'], at: number): readonly PutOn[] {
  if (next === null) return []
  const from = Math.max(next.dueAt, at)
  // What is late moves everything after it by as much.
  const late = Math.max(0, from - plan.stages[next.stage]!.dueAt)
  return plan.stages.flatMap((stage, i): PutOn[] => {
    if (stage.entryId !== null || i < next.stage) return []
    return i === next.stage
      ? [{ stage, at: from, amountG: next.amountG }]
      : [{ stage, at: stage.dueAt + late, amountG: stage.amountG }]
  })
}

/** Predicted pH week by week, with the portions still to come on their days. */
export function courseOf(
  { study, at }: BedFacts,
  plan: Plan,
  dosing: Dosing,
  { portions, next }: { readonly portions: readonly PutOn[]; readonly next: Follow['next'] },
): Follow['course'] {
  const first = portions[0]
  if (first === undefined) return null
  const all = [...portions, ...stillAhead(plan, next, at)]
  const end = Math.max(
    at,
    ...all.map((portion) => portion.at + portion.stage.fullBy - portion.stage.dueAt),
  )
  const until = Math.min(end, Math.max(at + WEEK_MS, first.at + LONGEST_COURSE_MS))
  const before =
    study === null
      ? null
      : levelBetween(study.days.bed, first.at - 31 * DAY, first.at - DAY / 2, { least: LEAST_DAYS })
  const base = before?.value ?? plan.fromPh
  const count = Math.floor((until - first.at) / WEEK_MS) + 1
  const time = Float64Array.from({ length: count }, (_, i) => first.at + i * WEEK_MS)
  const changes = Array.from(time, (then) =>
    predictedChange(
      all.filter((portion) => portion.at <= then),
      dosing,
      then,
    ),
  )
  return {
    time,
    low: Float64Array.from(changes, (c) => base + Math.min(c.low, c.high)),
    typical: Float64Array.from(changes, (c) => base + c.typical),
    high: Float64Array.from(changes, (c) => base + Math.max(c.low, c.high)),
  }
}
