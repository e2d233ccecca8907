import { dosingOf } from '../../agronomy/dosing.ts'
import { DAY } from '../../model/clock.ts'
import type { JournalEntry } from '../../model/journal.ts'
import type { Plan, Range } from '../../model/plan.ts'
import { amendmentBySlug } from '../../agronomy/amendments.ts'
import type { BedFacts } from '../../planning/bed-facts.ts'
import type { Draft } from '../../planning/draft.ts'
import { followPlan, type Measured } from '../../planning/follow.ts'
import type { Course, DraftView, PlanView } from '../schemas/planning.ts'
import { toColumn } from './column.ts'
import { sourceOrNull } from './source.ts'
import { toldViews } from './told.ts'
import { saidHere } from '../../words/everywhere.ts'
import { said } from '../../words/say.ts'

/** Days before the first portion from which the bed is drawn. */
const BEFORE_DAYS = 30

type Columns = {
  readonly time: Float64Array
  readonly low: Float64Array
  readonly typical: Float64Array
  readonly high: Float64Array
}
const courseView = (course: Columns): Course => ({
  time: Array.from(course.time, Math.round),
  low: toColumn(course.low),
  typical: toColumn(course.typical),
  high: toColumn(course.high),
})

const nameOf = (material: string): string => amendmentBySlug(material).name

function stageView(stage: Plan['stages'][number], areaM2: number) {
  return {
    dueAt: Math.round(stage.dueAt),
    amountG: stage.amountG,
    gM2: stage.amountG / areaM2,
    change: { ...stage.change },
    fullFrom: Math.round(stage.fullFrom),
    fullBy: Math.round(stage.fullBy),
    retestsAt: stage.retestsAt.map(Math.round),
  }
}

export function draftView({ bed }: BedFacts, draft: Draft): DraftView {
  const { plan } = draft
  return {
    material: plan.material,
    name: nameOf(plan.material),
    strength: plan.strength,
    fromPh: plan.fromPh,
    targetPh: plan.targetPh,
    stages: plan.stages.map((stage) => stageView(stage, bed.areaM2)),
    ends: { ...draft.ends },
    course: courseView(draft.course),
    told: toldViews(draft.told),
    sentence: draft.sentence,
    grounds: [...draft.grounds],
  }
}

/** @param photos journal entries of the bed that have one */
export function planView(facts: BedFacts, plan: Plan, photos: readonly number[]): PlanView {
  const { bed } = facts
  const follow = followPlan(facts, plan)
  const asInterval = (r: Range | null) =>
    r === null
      ? null
      : { value: r.typical, low: Math.min(r.low, r.high), high: Math.max(r.low, r.high) }
  return {
    id: plan.id,
    bedId: plan.bedId,
    bed: bed.name,
    createdAt: plan.createdAt,
    material: plan.material,
    name: nameOf(plan.material),
    strength: plan.strength,
    fromPh: plan.fromPh,
    targetPh: plan.targetPh,
    basis: saidHere(plan.bases) ?? plan.basis,
    closedAt: plan.closedAt,
    ending: plan.ending,
    stages: plan.stages.map((stage, i) => {
      const of = follow.stages[i]
      return {
        ...stageView(stage, bed.areaM2),
        entry: entryOf(of?.entry ?? null),
        hasPhoto: stage.entryId !== null && photos.includes(stage.entryId),
        before: measuredView(of?.before ?? null),
        after: measuredView(of?.after ?? null),
      }
    }),
    verdict: follow.verdict,
    measured: asInterval(follow.measured),
    predicted: asInterval(follow.predicted),
    course: follow.course === null ? null : courseView(follow.course),
    points: pointsOf(facts, plan),
    next: follow.next === null ? null : { ...follow.next, dueAt: Math.round(follow.next.dueAt) },
    stop: plan.closedAt === null ? follow.stop : null,
    sentence: follow.sentence,
    causes: [...follow.causes],
    grounds: [...follow.grounds],
    cautions: cautionViews(plan.material),
  }
}

export function cautionViews(material: string): PlanView['cautions'] {
  return (dosingOf(material)?.cautions ?? []).map(({ text, source }) => ({
    text: said(text),
    source: sourceOrNull(source),
  }))
}

function measuredView(measured: Measured | null): PlanView['stages'][number]['before'] {
  return measured === null
    ? null
    : {
        ph: measured.ph === null ? null : { ...measured.ph },
        from: Math.round(measured.from),
        to: Math.round(measured.to),
        samples: measured.samples.map((entry) => ({ ...entry })),
      }
}

const entryOf = (entry: JournalEntry | null) => (entry === null ? null : { ...entry })

/** The bed day by day since a month before the first portion. */
function pointsOf({ study, journal }: BedFacts, { stages }: Plan): PlanView['points'] {
  const first = journal.find(({ id }) => id === stages[0]?.entryId)
  if (study === null || first === undefined) return null
  const { day, value } = study.days.bed
  const from = first.at - BEFORE_DAYS * DAY
  const keep = Array.from(day.keys()).filter((i) => day[i]! >= from)
  return {
    time: keep.map((i) => Math.round(day[i]! + DAY / 2)),
    value: toColumn(Float64Array.from(keep, (i) => value[i]!)),
  }
}
