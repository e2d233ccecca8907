import { portionText } from '../words/amount.ts'
import { DAY } from '../model/clock.ts'
import type { Plan } from '../model/plan.ts'
import { amendmentBySlug } from '../agronomy/amendments.ts'
import type { BedFacts } from './bed-facts.ts'
import { dayOf } from './calendar.ts'
import { followPlan } from './follow.ts'
import { roundedDown } from './portions.ts'
import { nextDue } from './review/next-due.ts'
import { dayText } from '../words/figure.ts'
import { say } from '../words/say.ts'

/** Something with a day, for the calendar. */
export interface PlannedDay {
  /** Stable: the same event of the same plan keeps it. */
  readonly key: string
  /** Day in the garden's zone, 'YYYY-MM-DD'. */
  readonly day: string
  readonly bedId: number
  readonly bed: string
  readonly kind: 'treat' | 'measure again' | 'next treatment about'
  readonly summary: string
  readonly text: string
}

/** A re-test counts as done when a sample was taken so near to it, and is asked for no longer than this after it. */
const RETEST_EARLY_MS = 14 * DAY
const RETEST_ASKED_MS = 60 * DAY
/** A rough guide to years ahead has no place in a calendar. */
const NEXT_WITHIN_MS = 2 * 365 * DAY

/** Everything that lies ahead for these beds, and what was due and was not done; ascending. */
export function plannedDays(beds: readonly BedFacts[]): readonly PlannedDay[] {
  return beds
    .flatMap((facts) => [
      ...facts.plans
        .filter(({ closedAt }) => closedAt === null)
        .flatMap((plan) => daysOfPlan(facts, plan)),
      ...retestDays(facts),
      ...nextDays(facts),
    ])
    .toSorted((a, b) => (a.day < b.day ? -1 : a.day > b.day ? 1 : a.key < b.key ? -1 : 1))
}

/** Portions that lie ahead: the next one as it stands now, the later ones as planned. */
function daysOfPlan(facts: BedFacts, plan: Plan): readonly PlannedDay[] {
  const { bed, at, zone } = facts
  const { next, stop } = followPlan(facts, plan)
  if (stop !== null) return []
  const name = amendmentBySlug(plan.material).name
  // What is late moves everything after it by as much.
  const late =
    next === null ? 0 : Math.max(0, Math.max(next.dueAt, at) - plan.stages[next.stage]!.dueAt)
  // A bed that turns out smaller before anything is on gets less of every portion.
  const begun = plan.stages.some(({ entryId }) => entryId !== null)
  const share = begun || next === null ? 1 : next.amountG / plan.stages[next.stage]!.amountG
  return plan.stages.flatMap((stage, i): PlannedDay[] => {
    if (stage.entryId !== null || next === null || i < next.stage) return []
    const isNext = i === next.stage
    const dueAt = isNext ? next.dueAt : stage.dueAt + late
    const amountG = isNext ? next.amountG : roundedDown(stage.amountG * share)
    const overdue = dueAt < at - DAY ? [say`It has been due since ${dayText(dueAt, zone)}.`] : []
    return [
      {
        key: `plan-${plan.id}-portion-${i + 1}`,
        day: dayOf(dueAt, zone).toString(),
        bedId: bed.id,
        bed: bed.name,
        kind: 'treat',
        summary: `${bed.name}: ${portionText(amountG)} ${name}`,
        text: [
          say`Portion ${i + 1} of ${plan.stages.length}.`,
          ...(isNext
            ? []
            : [say`The amount is made anew once the portion before it has shown what it does.`]),
          ...overdue,
          say`Measure before it. Gloves, eye protection, dust mask, still weather; the product label and your local extension service come first.`,
        ].join(' '),
      },
    ]
  })
}

/** Re-tests after portions that were put on, of plans that run and of those that ended. */
function retestDays({ plans, journal, bed, zone, at }: BedFacts): readonly PlannedDay[] {
  return plans.flatMap((plan) =>
    plan.stages.flatMap((stage, i) => {
      const entry = journal.find(({ id }) => id === stage.entryId)
      if (entry === undefined) return []
      return stage.retestsAt.flatMap((planned, k): PlannedDay[] => {
        const when = entry.at + planned - stage.dueAt
        const done = journal.some(
          (e) => e.kind === 'sample' && e.at >= when - RETEST_EARLY_MS && e.at > entry.at,
        )
        if (done || when < at - RETEST_ASKED_MS) return []
        return [
          {
            key: `plan-${plan.id}-portion-${i + 1}-test-${k + 1}`,
            day: dayOf(when, zone).toString(),
            bedId: bed.id,
            bed: bed.name,
            kind: 'measure again',
            summary: say`${bed.name}: measure again`,
            text: say`After the ${amendmentBySlug(plan.material).name} of ${dayText(entry.at, zone)}: a slurry or laboratory sample of the bed, and a look at how the plan goes.`,
          },
        ]
      })
    }),
  )
}

function nextDays(facts: BedFacts): readonly PlannedDay[] {
  const { bed, at, zone, plans } = facts
  if (plans.some(({ closedAt }) => closedAt === null)) return []
  const { nextDue: due, nextSentence } = nextDue(facts)
  if (due === null || due.typical === null || due.typical < at) return []
  if (due.typical > at + NEXT_WITHIN_MS) return []
  return [
    {
      key: `bed-${bed.id}-next`,
      day: dayOf(due.typical, zone).toString(),
      bedId: bed.id,
      bed: bed.name,
      kind: 'next treatment about',
      summary: say`${bed.name}: may need something about now`,
      text: nextSentence,
    },
  ]
}
