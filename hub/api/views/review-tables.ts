import type { Interval } from '../schemas/findings.ts'
import type { BedReviewView, SeasonReportView } from '../schemas/review.ts'
import { csvTable, zonedDay, zonedTime } from '../tables.ts'

type Cell = string | number | null

const ends = (of: Interval | null, digits: number): Cell[] =>
  [of?.value ?? null, of?.low ?? null, of?.high ?? null].map((v) => rounded(v, digits))
const rounded = (v: number | null, digits: number): number | null =>
  v === null ? null : Math.round(v * 10 ** digits) / 10 ** digits

/** Every treatment of every bed, one row each. */
export function reviewTable(beds: readonly BedReviewView[], zone: string): string {
  return csvTable(
    [
      'bed',
      'put on',
      'material',
      'amount (g)',
      'held against',
      'begins after (days)',
      'highest after (days)',
      'highest effect (pH)',
      'highest effect at least (pH)',
      'highest effect at most (pH)',
      'half-life (days)',
      'half-life from (days)',
      'half-life to (days)',
      'half-life longer than (days)',
      'so far (pH months)',
      'so far at least (pH months)',
      'so far at most (pH months)',
      'cost of a pH month (currency)',
      'currency',
      'worked',
      'in words',
    ],
    beds.flatMap(({ bed, treatments }) =>
      treatments.map((t): Cell[] => {
        const half = t.effect?.halfLife
        return [
          bed,
          zonedTime(t.at, zone),
          t.material,
          t.amountG,
          t.effect?.question ?? null,
          rounded(t.effect?.onsetDays?.value ?? null, 0),
          rounded(t.effect?.peakDays?.value ?? null, 0),
          ...ends(t.effect?.peak ?? null, 2),
          ...ends(half?.kind === 'known' ? half.days : null, 0),
          half?.kind === 'at least' ? Math.round(half.days) : null,
          ...ends(t.phMonths, 2),
          rounded(t.cost?.value ?? null, 2),
          t.cost?.currency ?? null,
          t.worked,
          t.sentence,
        ]
      }),
    ),
  )
}

/** Beds month by month over a period. */
export function reportTable(reports: readonly SeasonReportView[], zone: string): string {
  return csvTable(
    [
      'bed',
      'first day',
      'last day',
      'month',
      'with a pH (days)',
      'median (pH)',
      'lowest day (pH)',
      'highest day (pH)',
      'band low (pH)',
      'band high (pH)',
      'inside the band (days)',
      'soil temperature (degrees C)',
      'water written down (L)',
      'treatments',
    ],
    reports.flatMap((report) =>
      report.months.map((month): Cell[] => [
        report.bed,
        zonedDay(report.from, zone),
        zonedDay(report.to - 1, zone),
        month.month,
        month.days,
        rounded(month.median, 2),
        rounded(month.lowest, 2),
        rounded(month.highest, 2),
        report.band?.low ?? null,
        report.band?.high ?? null,
        month.inBand,
        rounded(month.soilC, 1),
        rounded(month.waterL, 1),
        report.review.treatments
          .filter(({ at }) => zonedDay(at, zone).startsWith(month.month))
          .map(({ material, amountG }) =>
            amountG === null ? material : `${material} ${amountG} g`,
          )
          .join('; '),
      ]),
    ),
  )
}
