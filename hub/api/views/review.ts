import { cropBySlug } from '../../agronomy/crops.ts'
import { bandFor } from '../../analysis/band.ts'
import type { Interval3 } from '../../planning/interval3.ts'
import type { BedFacts } from '../../planning/bed-facts.ts'
import type { BedReview } from '../../planning/review.ts'
import type { SeasonReport } from '../../planning/season-report.ts'
import type { Interval } from '../schemas/findings.ts'
import type { BedReviewView, SeasonReportView } from '../schemas/review.ts'
import { toColumn } from './column.ts'
import { answerView } from './findings.ts'

const interval = (of: Interval3 | null): Interval | null => (of === null ? null : { ...of })
const whole = (at: number | null): number | null => (at === null ? null : Math.round(at))

export function bedReviewView({ study }: BedFacts, review: BedReview): BedReviewView {
  const { nextDue } = review
  return {
    bedId: review.bedId,
    bed: review.bed,
    treatments: review.treatments.map((t) => ({
      entryIds: [...t.entryIds],
      at: Math.round(t.at),
      material: t.material,
      amountG: t.amountG,
      effect: t.effect === null || study === null ? null : answerView(t.effect, study),
      phMonths: interval(t.phMonths),
      cost: t.cost === null ? null : { ...t.cost },
      worked: t.worked,
      sentence: t.sentence,
    })),
    nextDue:
      nextDue === null
        ? null
        : {
            typical: whole(nextDue.typical),
            earliest: whole(nextDue.earliest),
            latest: whole(nextDue.latest),
          },
    nextSentence: review.nextSentence,
    sentence: review.sentence,
  }
}

export function seasonReportView(facts: BedFacts, report: SeasonReport): SeasonReportView {
  const { bed } = facts
  const { from, to } = report
  const { band } = bandFor(bed)
  return {
    bedId: report.bedId,
    bed: report.bed,
    crops: bed.crops.map((slug) => cropBySlug(slug)?.name ?? slug),
    areaM2: bed.areaM2,
    band: band === null ? null : { ...band },
    from,
    to,
    months: report.months.map((month) => ({ ...month })),
    change: interval(report.change),
    inBandShare: interval(report.inBandShare),
    samples: report.samples.map((sample) => ({ ...sample })),
    events: report.events.map(({ at, sentence }) => ({ at: Math.round(at), sentence })),
    review: bedReviewView(facts, report.review),
    course: courseOf(facts, from, to),
    sentence: report.sentence,
  }
}

/** The bed day by day in [from, to) with its 95 % interval. */
function courseOf({ study }: BedFacts, from: number, to: number): SeasonReportView['course'] {
  if (study === null) return { time: [], value: [], low: [], high: [] }
  const { day, value, se } = study.days.bed
  const keep = Array.from(day.keys()).filter((i) => day[i]! >= from && day[i]! < to)
  const column = (of: (i: number) => number) => toColumn(Float64Array.from(keep, of))
  return {
    time: keep.map((i) => Math.round(day[i]!)),
    value: column((i) => value[i]!),
    low: column((i) => value[i]! - 1.96 * se[i]!),
    high: column((i) => value[i]! + 1.96 * se[i]!),
  }
}
