import type { Interval } from '../schemas/findings.ts'
import type { BedReviewView, SeasonReportView } from '../schemas/review.ts'
import { csvTable, zonedDay, zonedTime } from '../tables.ts'
import { said, say, toSay } from '../../words/say.ts'

type Cell = string | number | null

const ends = (of: Interval | null, digits: number): Cell[] =>
  [of?.value ?? null, of?.low ?? null, of?.high ?? null].map((v) => rounded(v, digits))
const rounded = (v: number | null, digits: number): number | null =>
  v === null ? null : Math.round(v * 10 ** digits) / 10 ** digits

/** Codes as a person reads them. */
const CODES = {
  'advantage over untreated': toSay('advantage over untreated'),
  'above where it was': toSay('above where it was'),
  yes: toSay('yes'),
  no: toSay('no'),
  'not known': toSay('not known'),
} as const

/** Every treatment of every bed, one row each. */
export function reviewTable(beds: readonly BedReviewView[], zone: string): string {
  return csvTable(
    [
      say`bed`,
      say`put on`,
      say`material`,
      say`amount (g)`,
      say`held against`,
      say`begins after (days)`,
      say`highest after (days)`,
      say`highest effect (pH)`,
      say`highest effect at least (pH)`,
      say`highest effect at most (pH)`,
      say`half-life (days)`,
      say`half-life from (days)`,
      say`half-life to (days)`,
      say`half-life longer than (days)`,
      say`so far (pH months)`,
      say`so far at least (pH months)`,
      say`so far at most (pH months)`,
      say`cost of a pH month (currency)`,
      say`currency`,
      say`worked`,
      say`in words`,
    ],
    beds.flatMap(({ bed, treatments }) =>
      treatments.map((t): Cell[] => {
        const half = t.effect?.halfLife
        return [
          bed,
          zonedTime(t.at, zone),
          t.material,
          t.amountG,
          t.effect === null ? null : said(CODES[t.effect.question]),
          rounded(t.effect?.onsetDays?.value ?? null, 0),
          rounded(t.effect?.peakDays?.value ?? null, 0),
          ...ends(t.effect?.peak ?? null, 2),
          ...ends(half?.kind === 'known' ? half.days : null, 0),
          half?.kind === 'at least' ? Math.round(half.days) : null,
          ...ends(t.phMonths, 2),
          rounded(t.cost?.value ?? null, 2),
          t.cost?.currency ?? null,
          said(CODES[t.worked]),
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
      say`bed`,
      say`first day`,
      say`last day`,
      say`month`,
      say`with a pH (days)`,
      say`median (pH)`,
      say`lowest day (pH)`,
      say`highest day (pH)`,
      say`band low (pH)`,
      say`band high (pH)`,
      say`inside the band (days)`,
      say`soil temperature (degrees C)`,
      say`water written down (L)`,
      say`treatments`,
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
