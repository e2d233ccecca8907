import type { PlanView } from '#hub/api/schemas/planning.ts'
import { gardenReview, seasonReport } from '#hub/api/schemas/review.ts'
import type {
  BedReviewView,
  GardenReview,
  ReviewedTreatmentView,
  SeasonReportView,
} from '#hub/api/schemas/review.ts'
import { inventedAnswer, inventedComparison } from './findings-fixture.ts'

const DAY = 86_400_000

/** A bed by the two things a review says of it. */
export interface Named {
  readonly id: number
  readonly name: string
}

const round = (x: number): number => Math.round(x * 100) / 100
/** A small unrest that is the same at every run. */
const unrest = (i: number): number => 0.06 * Math.sin(i * 0.41) + 0.05 * Math.cos(i * 1.7)

function limed(now: number): ReviewedTreatmentView {
  const at = now - 260 * DAY
  return {
    entryIds: [1],
    at,
    material: 'ground limestone',
    amountG: 900,
    effect: inventedAnswer(at, now),
    phMonths: { value: 4.6, low: 3.7, high: 5.5 },
    cost: { value: 0.166, low: 0.139, high: 0.207, currency: 'EUR' },
    worked: 'yes',
    sentence:
      'It raised the bed by 0.71 and still holds it 0.49 higher; half of that lasts about 236 days.',
  }
}

/** Treatments of every kind: worked, has not turned, did nothing, cannot be told. */
function treatments(now: number): ReviewedTreatmentView[] {
  const limestone = limed(now)
  const nothing = inventedAnswer(now - 96 * DAY, now, {
    verdict: 'no measurable effect',
    onsetDays: null,
    peakDays: null,
    peak: null,
    present: { value: -0.02, low: -0.13, high: 0.09 },
    halfLife: { kind: 'unknown', reason: 'there is no effect to lose' },
    notLargerThan: 0.13,
    halfBackAt: null,
    curve: null,
    points: null,
    sentence: 'No measurable effect: none larger than 0.13 pH.',
    grounds: ['26 weekly values'],
  })
  return [
    limestone,
    {
      ...limestone,
      entryIds: [2, 3, 4],
      at: now - 420 * DAY,
      material: 'wood ash',
      amountG: 640,
      effect: inventedAnswer(now - 420 * DAY, now, {
        question: 'advantage over untreated',
        controls: ['Fern bed'],
        halfLife: { kind: 'at least', days: 410 },
      }),
      phMonths: { value: 2.13, low: 1.4, high: null },
      cost: { value: 0.0421, low: 0.031, high: null, currency: 'EUR' },
      sentence: 'It stands 0.66 higher than the untreated bed; the advantage has not turned yet.',
    },
    {
      ...limestone,
      entryIds: [5],
      at: now - 96 * DAY,
      material: 'pine needles',
      amountG: null,
      effect: nothing,
      phMonths: null,
      cost: null,
      worked: 'no',
      sentence: 'No measurable effect: none larger than 0.13 pH.',
    },
    {
      ...limestone,
      entryIds: [6],
      at: now - 11 * DAY,
      material: 'elemental sulfur',
      amountG: 120,
      effect: null,
      phMonths: null,
      cost: null,
      worked: 'not known',
      sentence: 'It went on 11 days ago: too early to say.',
    },
  ]
}

export function inventedBedReview(bed: Named, now: number): BedReviewView {
  return {
    bedId: bed.id,
    bed: bed.name,
    treatments: treatments(now),
    nextDue: { typical: now + 214 * DAY, earliest: now + 120 * DAY, latest: null },
    nextSentence: `${bed.name}: next treatment due about June 2027, not before March 2027. Measure before it.`,
    sentence: `Of four treatments of ${bed.name} two worked, one did nothing that can be measured, one is too young.`,
  }
}

/** A bed nothing was put on. */
export function emptyBedReview(bed: Named): BedReviewView {
  return {
    bedId: bed.id,
    bed: bed.name,
    treatments: [],
    nextDue: null,
    nextSentence: 'When it will want something cannot be told before 120 days of values.',
    sentence: `Nothing was put on ${bed.name} yet.`,
  }
}

/** A plan with one portion on and one ahead. */
export function inventedRunningPlan(
  bed: Named,
  now: number,
  change: Partial<PlanView> = {},
): PlanView {
  const stage = (dueAt: number): PlanView['stages'][number] => ({
    dueAt,
    amountG: 420,
    gM2: 93,
    change: { low: 0.2, typical: 0.32, high: 0.46 },
    fullFrom: dueAt + 86 * DAY,
    fullBy: dueAt + 136 * DAY,
    retestsAt: [dueAt + 90 * DAY],
    entry: null,
    hasPhoto: false,
    before: null,
    after: null,
  })
  return {
    id: 1,
    bedId: bed.id,
    bed: bed.name,
    createdAt: now - 92 * DAY,
    material: 'ground-limestone',
    name: 'ground limestone',
    strength: 0.9,
    fromPh: 5.6,
    targetPh: 6.2,
    basis: 'Loam by its texture.',
    closedAt: null,
    ending: null,
    stages: [stage(now - 90 * DAY), stage(now + 46 * DAY)],
    verdict: 'as expected',
    measured: { value: 0.29, low: 0.17, high: 0.41 },
    predicted: { value: 0.31, low: 0.19, high: 0.44 },
    course: null,
    points: null,
    next: {
      stage: 1,
      dueAt: now + 46 * DAY,
      amountG: 430,
      sentence: 'The next portion waits until the first has shown all it does.',
    },
    stop: null,
    sentence: 'It goes as expected: 0.29 of the 0.31 pH that were predicted by now.',
    causes: [],
    grounds: [],
    cautions: [],
    ...change,
  }
}

/** All of it is invented, and held against the schema. */
export function inventedReview(full: Named, empty: Named, now: number): GardenReview {
  return gardenReview.parse({
    at: now,
    beds: [inventedBedReview(full, now), emptyBedReview(empty)],
    materials: inventedComparison(),
    plans: [
      inventedRunningPlan(full, now),
      inventedRunningPlan(empty, now, {
        id: 2,
        material: 'sulfur',
        name: 'elemental sulfur',
        next: null,
        stop: 'reached',
        verdict: 'as expected',
        sentence: 'The bed is inside its band: nothing more should go on.',
      }),
    ],
  })
}

/** Civil months of UTC that a period touches. */
function monthsOf(from: number, to: number): string[] {
  const first = new Date(from)
  const months: string[] = []
  for (let i = 0; ; i++) {
    const at = Date.UTC(first.getUTCFullYear(), first.getUTCMonth() + i, 1)
    if (at >= to) return months
    months.push(new Date(at).toISOString().slice(0, 7))
  }
}

/** A season of a bed with a gap of three weeks; without `review` of one nothing was put on. */
export function inventedReport(
  bed: Named,
  { from, to }: { readonly from: number; readonly to: number },
  now: number,
  review: BedReviewView = inventedBedReview(bed, now),
): SeasonReportView {
  const time: number[] = []
  for (let at = from; at < Math.min(to, now); at += DAY) {
    const d = (at - from) / DAY
    if (d < 100 || d > 121) time.push(at)
  }
  const value = time.map((at, i) =>
    round(6.0 + 0.5 * (1 - Math.exp(-(at - from) / (90 * DAY))) + unrest(i)),
  )
  const months = monthsOf(from, to)
  return seasonReport.parse({
    bedId: bed.id,
    bed: bed.name,
    crops: ['tomato', 'lettuce', 'bush bean'],
    areaM2: 4.5,
    band: { low: 6, high: 6.8 },
    from,
    to,
    months: months.map((month, i) => ({
      month,
      days: i === months.length - 1 ? 0 : 28,
      median: i === months.length - 1 ? null : round(6.02 + 0.04 * i),
      lowest: i === months.length - 1 ? null : round(5.9 + 0.04 * i),
      highest: i === months.length - 1 ? null : round(6.14 + 0.04 * i),
      inBand: i === months.length - 1 ? 0 : 20 + (i % 9),
      soilC: i === months.length - 1 ? null : round(9 + 8 * Math.sin(i / 3)),
      waterL: 40 * (i % 4),
    })),
    change: { value: 0.38, low: 0.21, high: 0.55 },
    inBandShare: { value: 0.83, low: 0.76, high: 0.88 },
    samples: [
      { at: from + 20 * DAY, ph: 5.9, method: 'slurry 1:1' },
      { at: from + 150 * DAY, ph: 6.35, method: 'laboratory' },
    ],
    events: [
      {
        at: from + 41 * DAY,
        sentence: 'pH fell by 0.44 with 38 mm of rain and came back within a week.',
      },
      {
        at: from + 77 * DAY,
        sentence: 'pH rose by 0.68 over eleven days: most likely the ground limestone.',
      },
    ],
    review,
    course: {
      time,
      value,
      low: value.map((v) => round(v - 0.12)),
      high: value.map((v) => round(v + 0.12)),
    },
    sentence: `${bed.name} rose by 0.38 and was within its band on 83 % of the known days.`,
  })
}
