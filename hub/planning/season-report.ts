import { bandFor } from '../analysis/band.ts'
import { bandText, ph1 } from '../analysis/format.ts'
import { timeInBand } from '../analysis/forecast/time-in-band.ts'
import { median } from '../analysis/stats/median.ts'
import { DAY } from '../model/clock.ts'
import type { BedFacts } from './bed-facts.ts'
import { changeText } from './amount-words.ts'
import { dayOf, startOf } from './calendar.ts'
import { levelBetween } from './follow/level-between.ts'
import type { Interval3 } from './interval3.ts'
import { type BedReview, reviewBed, type ReviewedTreatment } from './review.ts'
import { counted } from '../words/figure.ts'
import { say } from '../words/say.ts'

/** A bed over a period of the calendar. */
export interface SeasonReport {
  readonly bedId: number
  readonly bed: string
  /** Epoch ms, [from, to). */
  readonly from: number
  readonly to: number
  /** Months of the garden's zone, 'YYYY-MM', that lie in the period, whole or in part. */
  readonly months: readonly {
    readonly month: string
    readonly days: number
    readonly median: number | null
    readonly lowest: number | null
    readonly highest: number | null
    /** Days inside the band, of `days`; null without a band. */
    readonly inBand: number | null
    readonly soilC: number | null
    readonly waterL: number
  }[]
  /** Change from the first to the last month that has enough days, pH. */
  readonly change: Interval3 | null
  readonly inBandShare: Interval3 | null
  readonly samples: readonly { readonly at: number; readonly ph: number; readonly method: string }[]
  readonly events: readonly { readonly at: number; readonly sentence: string }[]
  readonly review: BedReview
  readonly sentence: string
}

/** Days a month needs for its level to be compared. */
const LEAST_DAYS = 7
/** What electrodes move between two levels of one bed, pH; judgement. */
const ELECTRODE_SE = 0.05
const Z95 = 1.96

type Month = SeasonReport['months'][number]

/**
 * A bed over [from, to).
 *
 * @param events what changed suddenly, in words
 */
export function seasonReport(
  facts: BedFacts,
  from: number,
  to: number,
  events: SeasonReport['events'],
): SeasonReport {
  const { bed, journal, at } = facts
  const until = Math.min(to, at)
  const months = monthsOf(facts, from, until)
  const change = changeOver(facts, from, until)
  const inBandShare = shareOf(facts, from, until)
  const whole = reviewBed(facts)
  const review = {
    ...whole,
    treatments: whole.treatments.filter((t) => belongs(t, from, until)),
  }
  return {
    bedId: bed.id,
    bed: bed.name,
    from,
    to,
    months,
    change,
    inBandShare,
    samples: journal.flatMap((e) =>
      e.kind === 'sample' && e.at >= from && e.at < until && e.ph !== null
        ? [{ at: e.at, ph: e.ph, method: e.method ?? 'not said' }]
        : [],
    ),
    events: events.filter((event) => event.at >= from && event.at < until),
    review,
    sentence: sentenceOf(facts, months, change, inBandShare, review.treatments),
  }
}

/** Put on in the period, or still at work in it. */
function belongs({ at, effect }: ReviewedTreatment, from: number, to: number): boolean {
  if (at >= to) return false
  if (at >= from) return true
  const { low, high } = effect?.present ?? { low: null, high: null }
  return effect?.verdict === 'effect' && low !== null && high !== null && low * high > 0
}

/** First moments of the months of the zone that meet [from, to), and the end of the last. */
function monthEdges(from: number, to: number, zone: string): readonly number[] {
  const edges: number[] = []
  if (to <= from) return edges
  let first = dayOf(from, zone).with({ day: 1 })
  while (startOf(first, zone) < to) {
    edges.push(startOf(first, zone))
    first = first.add({ months: 1 })
  }
  return [...edges, startOf(first, zone)]
}

function monthsOf(facts: BedFacts, from: number, to: number): readonly Month[] {
  const { study, zone, journal, soilC, bed } = facts
  const edges = monthEdges(from, to, zone)
  const band = study?.band ?? bandFor(bed).band
  return edges.slice(0, -1).map((edge, i): Month => {
    const begin = Math.max(edge, from)
    const end = Math.min(edges[i + 1]!, to)
    // A UTC day belongs to the month in which its noon lies.
    const isIn = (day: number): boolean => day + DAY / 2 >= begin && day + DAY / 2 < end
    const { day, value } = study?.days.bed ?? {
      day: new Float64Array(0),
      value: new Float64Array(0),
    }
    const values = Array.from(value).filter((v, k) => isIn(day[k]!) && Number.isFinite(v))
    const warmth = Array.from(soilC.value).filter((_, k) => isIn(soilC.day[k]!))
    return {
      month: dayOf(edge, zone).toPlainYearMonth().toString(),
      days: values.length,
      median: values.length === 0 ? null : median(values),
      lowest: values.length === 0 ? null : Math.min(...values),
      highest: values.length === 0 ? null : Math.max(...values),
      inBand: band === null ? null : values.filter((v) => v >= band.low && v <= band.high).length,
      soilC: warmth.length === 0 ? null : warmth.reduce((sum, v) => sum + v, 0) / warmth.length,
      waterL: journal.reduce(
        (sum, e) =>
          e.kind === 'irrigation' && e.at >= begin && e.at < end ? sum + (e.waterL ?? 0) : sum,
        0,
      ),
    }
  })
}

/** From the level of the first month that has enough days to that of the last. */
function changeOver({ study, zone }: BedFacts, from: number, to: number): Interval3 | null {
  if (study === null) return null
  const edges = monthEdges(from, to, zone)
  const levels = edges.slice(0, -1).flatMap((edge, i) => {
    const begin = Math.max(edge, from) - DAY / 2
    const end = Math.min(edges[i + 1]!, to) - DAY / 2
    return levelBetween(study.days.bed, begin, end, { least: LEAST_DAYS }) ?? []
  })
  const [first] = levels
  const last = levels.at(-1)
  if (first === undefined || last === undefined || levels.length < 2) return null
  const value = last.value - first.value
  const reach = Z95 * Math.hypot(first.se, last.se, ELECTRODE_SE)
  return { value, low: value - reach, high: value + reach }
}

/** Share of the days inside the band, as the page of the bed counts them; null with few days or without a band. */
function shareOf({ study, bed }: BedFacts, from: number, to: number): Interval3 | null {
  const band = study?.band ?? bandFor(bed).band
  if (study === null || band === null) return null
  const found = timeInBand(study.days.bed, band, from - DAY / 2, to - DAY / 2)
  return found.status === 'ok' ? { value: found.share, low: found.low, high: found.high } : null
}

function sentenceOf(
  { bed, study }: BedFacts,
  months: readonly Month[],
  change: Interval3 | null,
  share: Interval3 | null,
  treatments: readonly ReviewedTreatment[],
): string {
  const days = months.reduce((sum, m) => sum + m.days, 0)
  if (days === 0) return say`${bed.name} has no valid day in this period.`
  const band = study?.band ?? bandFor(bed).band
  const last = months.findLast(({ median: level }) => level !== null)
  const interval =
    change === null
      ? ''
      : say`${changeText(change.value)} pH (${changeText(change.low)} to ${changeText(change.high)}) since its first month`
  const moved =
    change === null
      ? ''
      : change.low > 0 || change.high < 0
        ? `: ${interval}`
        : `; ${say`no change can be told: ${interval}`}`
  const parts = [
    say`${bed.name} stood at pH ${ph1(last!.median!)} at the end of it, by ${counted(days, 'valid day')}${moved}.`,
  ]
  if (share !== null && band !== null) {
    const [value, low, high] = [share.value, share.low, share.high].map((v) => Math.round(100 * v))
    parts.push(
      low === high
        ? say`${value!} % of its days were inside ${bandText(band)}.`
        : say`${value!} % of its days were inside ${bandText(band)} (${low!} to ${high!} %).`,
    )
  }
  const worked = treatments.filter((t) => t.worked === 'yes').length
  if (treatments.length > 0) {
    const at = counted(treatments.length, 'treatment')
    parts.push(
      worked === 0
        ? say`${at} at work in it; none has shown an effect so far.`
        : worked === 1
          ? say`${at} at work in it; 1 has shown an effect so far.`
          : say`${at} at work in it; ${worked} have shown an effect so far.`,
    )
  }
  return parts.join(' ')
}
