import { DAY } from '../../model/clock.ts'
import type { SpotDay } from '../../model/spot-day.ts'
import { studentQuantile, Z } from '../stats/distributions.ts'
import { median } from '../stats/median.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import type { DailySeries } from './daily-series.ts'
import { type Spread, robustMean } from './robust-mean.ts'
import { phSpread, SPREAD } from './spread.ts'

/** Hours a day needs to count. */
const LEAST_HOURS = 6
/** Days from which the habit of a spot is learned; learned over ten of them it is believed by half. */
const HABIT_DAYS = 60
const HALF_BELIEF_DAYS = 10
/** Prior for the spread of the spots of a bed, pH, and how many spots it weighs like. */
const SPOT_SD = 0.18
const PRIOR_SPOTS = 4
/** An outlying spot is named when it lies so far from the middle of the others, pH and spreads. */
const OUTLYING = { least: 0.3, spreads: 2.5 } as const
/** Wanted half-width of the bed value, pH. */
export const WANTED_HALF_WIDTH = 0.2
const MOST_SPOTS = 60

/** Days of one probe in one spot. */
export interface SpotSeries {
  readonly spotId: number
  readonly probe: string
  readonly series: DailySeries
}

/** How many spots this bed needs, from how far its own spots lie apart. */
export interface SpotsNeeded {
  /** Spots with a level, and how many they are worth when some weigh less; 0 when none. */
  readonly spots: number
  readonly effective: number
  /** Standard deviation of the spots about the bed, pH, drawn towards what is usual for beds. */
  readonly spotSd: number
  /** Half-width of the 95 % interval of the bed's mean with the present spots, pH; NaN without any. */
  readonly halfWidth: number
  /** Spots for an interval of plus or minus 0.2. */
  readonly needed: number
  readonly outlying: { readonly spotId: number; readonly by: number } | null
}

/** A bed day by day. */
export interface BedDays {
  readonly bed: DailySeries
  readonly spots: readonly SpotSeries[]
  readonly needed: SpotsNeeded
}

/**
 * A bed's daily value out of its spots: each freed of its learned habit (so that the value does not jump when one
 * falls silent), robustly combined. Days of a probe that left the others by itself do not count.
 *
 * @param calibrations per probe, epoch ms ascending: the longer ago, the wider the doubt; unknown ones widen nothing
 */
export function bedDays(
  days: readonly SpotDay[],
  calibrations: ReadonlyMap<string, readonly number[]> = new Map(),
): BedDays {
  const bySpot = new Map<string, SpotDay[]>()
  for (const day of days) {
    if (day.apart || day.hours < LEAST_HOURS || !Number.isFinite(day.ph)) continue
    const key = `${day.spotId}/${day.probe}`
    const own = bySpot.get(key)
    if (own === undefined) bySpot.set(key, [day])
    else own.push(day)
  }
  const spots = Array.from(bySpot.values(), (own): SpotSeries => {
    const sorted = own.toSorted((a, b) => a.day - b.day)
    return {
      spotId: sorted[0]!.spotId,
      probe: sorted[0]!.probe,
      series: {
        day: Float64Array.from(sorted, (d) => d.day),
        value: Float64Array.from(sorted, (d) => d.ph),
        se: new Float64Array(sorted.length).fill(Math.sqrt(SPREAD.ph.variance)),
      },
    }
  })
  const first = Math.min(...spots.map(({ series }) => series.day[0]!))
  const last = Math.max(...spots.map(({ series }) => series.day.at(-1)!))
  if (!(first <= last)) return { bed: emptyDays(), spots: [], needed: neededOf([]) }
  const length = Math.round((last - first) / DAY) + 1
  const columns = spots.map(({ series }) => {
    const column = new Float64Array(length).fill(NaN)
    for (const [i, day] of series.day.entries()) {
      column[Math.round((day - first) / DAY)] = series.value[i]!
    }
    return column
  })
  const habits = habitsOf(columns)
  const none = habits.map(() => 0)
  const out = { day: [] as number[], value: [] as number[], se: [] as number[] }
  for (let row = 0; row < length; row++) {
    const values = voices(spots, columns, habits, row)
    if (values.length === 0) continue
    const day = first + row * DAY
    const present = spots.filter((_, i) => !Number.isNaN(columns[i]![row]!))
    const spread = spreadOn(present, calibrations, day)
    const { value } = robustMean(values, spread)
    // Habits keep the value from jumping; how far the spots lie apart stays part of the doubt.
    const { halfWidth } = robustMean(voices(spots, columns, none, row), spread)
    out.day.push(day)
    out.value.push(value)
    out.se.push(halfWidth / studentQuantile(Z.two95, 7 + values.length))
  }
  return {
    bed: {
      day: Float64Array.from(out.day),
      value: Float64Array.from(out.value),
      se: Float64Array.from(out.se),
    },
    spots,
    needed: neededOf(levelsNow(spots, columns)),
  }
}

const emptyDays = (): DailySeries => ({
  day: new Float64Array(0),
  value: new Float64Array(0),
  se: new Float64Array(0),
})

/** Spread of the spots on a day, by how long ago their probes were calibrated. */
function spreadOn(
  present: readonly SpotSeries[],
  calibrations: ReadonlyMap<string, readonly number[]>,
  day: number,
): Spread {
  if (calibrations.size === 0) return SPREAD.ph
  return phSpread(
    present.map(({ probe }) => ({
      calibrationAgeMs: day - (calibrations.get(probe)?.findLast((at) => at <= day) ?? NaN),
      uncalibrated: false,
      moistureUnknown: false,
    })),
  )
}

/** One value a spot: several probes in it are one voice. */
function voices(
  spots: readonly SpotSeries[],
  columns: readonly Float64Array[],
  habits: readonly number[],
  row: number,
): number[] {
  const bySpot = new Map<number, { sum: number; n: number }>()
  for (const [i, column] of columns.entries()) {
    const value = column[row]! - habits[i]!
    if (Number.isNaN(value)) continue
    const own = bySpot.get(spots[i]!.spotId)
    if (own === undefined) bySpot.set(spots[i]!.spotId, { sum: value, n: 1 })
    else {
      own.sum += value
      own.n++
    }
  }
  return Array.from(bySpot.values(), ({ sum, n }) => sum / n)
}

/** How far each column reads from the bed by habit, from its last sixty days in company, shrunk. */
function habitsOf(columns: readonly Float64Array[]): number[] {
  const differences = columns.map((): number[] => [])
  const rows = columns[0]?.length ?? 0
  for (let row = rows - 1; row >= 0; row--) {
    // Years of rows in which everybody's habit is known already cost nothing.
    if (columns.every((c, i) => Number.isNaN(c[row]!) || differences[i]!.length >= HABIT_DAYS)) {
      continue
    }
    const present = columns.flatMap((column) => (Number.isNaN(column[row]!) ? [] : column[row]!))
    if (present.length < 2) continue
    const centre = median(present)
    for (const [i, column] of columns.entries()) {
      const own = differences[i]!
      if (!Number.isNaN(column[row]!) && own.length < HABIT_DAYS) own.push(column[row]! - centre)
    }
  }
  const habits = differences.map((of) =>
    of.length === 0 ? 0 : (median(of) * of.length) / (of.length + HALF_BELIEF_DAYS),
  )
  const seen = habits.filter((_, i) => differences[i]!.length > 0)
  // Robust, or the habit of one failing probe would move the bed.
  const centre = seen.length === 0 ? 0 : robustMean(seen, SPREAD.ph).value
  return habits.map((habit, i) => (differences[i]!.length > 0 ? habit - centre : 0))
}

interface SpotLevel {
  readonly spotId: number
  readonly level: number
  readonly days: number
}

/** Level of each spot over the last month of the bed. */
function levelsNow(spots: readonly SpotSeries[], columns: readonly Float64Array[]): SpotLevel[] {
  const bySpot = new Map<number, number[]>()
  for (const [i, column] of columns.entries()) {
    const own = bySpot.get(spots[i]!.spotId) ?? []
    own.push(...column.slice(-30).filter((value) => !Number.isNaN(value)))
    bySpot.set(spots[i]!.spotId, own)
  }
  return Array.from(bySpot, ([spotId, values]) => ({
    spotId,
    level: median(values),
    days: values.length,
  })).filter(({ days }) => days > 0)
}

function neededOf(levels: readonly SpotLevel[]): SpotsNeeded {
  const n = levels.length
  const centre = median(levels.map(({ level }) => level))
  let squares = 0
  // One failing probe must not make the whole bed look uneven.
  for (const { level } of levels) squares += Math.min((level - centre) ** 2, (3 * SPOT_SD) ** 2)
  const freedom = PRIOR_SPOTS + Math.max(0, n - 1)
  const spotSd = Math.sqrt((PRIOR_SPOTS * SPOT_SD ** 2 + squares) / freedom)
  const half = (spots: number): number =>
    (tQuantile(0.975, PRIOR_SPOTS + spots - 1) * spotSd) / Math.sqrt(spots)
  let needed = 1
  while (needed < MOST_SPOTS && half(needed) > WANTED_HALF_WIDTH) needed++
  const most = Math.max(...levels.map(({ days }) => days))
  const weights = levels.map(({ days }) => days / most)
  const sum = weights.reduce((a, w) => a + w, 0)
  const square = weights.reduce((a, w) => a + w * w, 0)
  const effective = n === 0 ? 0 : (sum * sum) / square
  let outlying: SpotsNeeded['outlying'] = null
  for (const { spotId, level } of n >= 3 ? levels : []) {
    const rest = levels.filter((l) => l.spotId !== spotId).map((l) => l.level)
    const by = level - median(rest)
    const spread = Math.max(0.1, Math.max(...rest) - Math.min(...rest))
    if (
      Math.abs(by) >= Math.max(OUTLYING.least, OUTLYING.spreads * spread) &&
      Math.abs(by) > Math.abs(outlying?.by ?? 0)
    ) {
      outlying = { spotId, by }
    }
  }
  return {
    spots: n,
    effective,
    spotSd,
    halfWidth: n === 0 ? NaN : half(effective),
    needed,
    outlying,
  }
}
