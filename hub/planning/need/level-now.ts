import { LEAST_VALID_DAYS, WANTED_VALID_DAYS } from '../../agronomy/planning-limits.ts'
import { mad } from '../../analysis/stats/mad.ts'
import { median } from '../../analysis/stats/median.ts'
import { studentQuantile, Z } from '../../analysis/stats/distributions.ts'
import { DAY } from '../../model/clock.ts'
import type { BedFacts } from '../bed-facts.ts'

/** The level of a bed by its last valid days. */
export interface LevelNow {
  /** Median, and the ends of its 95 % interval, pH. */
  readonly value: number
  readonly low: number
  readonly high: number
  /** Half-width of the 90 % interval. */
  readonly half90: number
  readonly days: number
  /** Start of the newest UTC day that counts, epoch ms. */
  readonly newest: number
  /** A change of level that stayed, or a calibration that took drift away: days before do not count. Epoch ms; null without one. */
  readonly cutAt: number | null
}

/** Nothing is going to measure this bed, however long it is waited for. */
export function hasNoProbe({ assessment }: BedFacts): boolean {
  return assessment !== null && assessment.spots.length === 0
}

/** Days older than this do not tell where the bed is now. */
const LOOK_BACK_DAYS = 30
/** A calibration that took so much away makes the days before it days of another level, pH; two days to settle. */
const TAKEN_AWAY_PH = 0.15
const SETTLING_MS = 2 * DAY
/** A standard error of the median over that of the mean, for normal noise. */
const MEDIAN_OVER_MEAN = 1.2533
/** Days of one week say nearly the same: so many days are worth one. */
const DAYS_PER_VOICE = 3
/** Freedom of the spread of a few spots, as in the days of a bed. */
const FREEDOM = 8

/**
 * Median of the last fourteen valid days of the last thirty. What the spots have in common stays in the doubt: days do
 * not average it away. Null when no day is valid.
 */
export function levelNow({ study, assessment, at }: BedFacts): LevelNow | null {
  if (study === null) return null
  const { day, value, se } = study.days.bed
  const kept = (assessment?.watch.events ?? []).filter(
    ({ state, cause }) => state === 'kept' && (cause === 'soil' || cause === 'treatment'),
  )
  const taken = study.electrodes.flatMap(({ jumps }) =>
    jumps.status === 'ok' && Math.abs(jumps.newest) >= TAKEN_AWAY_PH
      ? [jumps.at + SETTLING_MS]
      : [],
  )
  const cuts = [...kept.map(({ onset }) => onset), ...taken].filter((cut) => cut <= at)
  const cutAt = cuts.length === 0 ? null : Math.max(...cuts)
  const rows: number[] = []
  for (let i = day.length - 1; i >= 0 && rows.length < WANTED_VALID_DAYS.value; i--) {
    if (day[i]! > at || !Number.isFinite(value[i]!)) continue
    if (day[i]! < at - LOOK_BACK_DAYS * DAY) break
    if (cutAt !== null && day[i]! < cutAt + DAY / 2) break
    rows.push(i)
  }
  const newest = rows[0]
  if (newest === undefined) return null
  const values = rows.map((i) => value[i]!)
  const middle = median(values)
  const common = median(rows.map((i) => se[i]!))
  const noise = rows.length < 3 ? 0 : mad(values)
  const own = (MEDIAN_OVER_MEAN * noise) / Math.sqrt(Math.max(1, rows.length / DAYS_PER_VOICE))
  const doubt = Math.hypot(Number.isFinite(common) ? common : 0, own)
  const half95 = studentQuantile(Z.two95, FREEDOM) * doubt
  return {
    value: middle,
    low: middle - half95,
    high: middle + half95,
    half90: studentQuantile(Z.two90, FREEDOM) * doubt,
    days: rows.length,
    newest: day[newest]!,
    cutAt: rows.length < LEAST_VALID_DAYS.value ? cutAt : null,
  }
}
