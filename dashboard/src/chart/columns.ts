import type { BedSeries, Present } from '../../../hub/api/schemas/bed.ts'

/** A number where something is known, null where the line breaks, undefined where it passes through. */
export type Column = (number | null | undefined)[]

/** One spot as two lines: where it counted, and where it was left out. */
export interface SpotColumns {
  readonly spot: string
  readonly probe: string
  readonly counted: Column
  readonly leftOut: Column
}
/** Columns of equal length, ascending in time. */
export interface ChartColumns {
  readonly time: number[]
  readonly value: Column
  readonly low: Column
  readonly high: Column
  /** Lowest and highest single reading of each step; null where a step holds no more than one. */
  readonly lowest: Column
  readonly highest: Column
  readonly spots: readonly SpotColumns[]
}

/** Steps without a row from which on the line is broken. */
export const GAP_STEPS = 2.5

/** Spacing that most of some ascending times keep: probes of one bed may send at different intervals. */
export function usualSpacing(time: readonly number[]): number {
  const spacings = time.slice(1).map((at, i) => at - (time[i] ?? at))
  const place = Math.floor(0.8 * (spacings.length - 1))
  return spacings.toSorted((a, b) => a - b)[place] ?? 0
}

/**
 * Opens the short holes of columns that belong together (null becomes undefined): on a grid finer than a
 * probe's interval most cells are empty without anything missing. A hole is short when it is no longer than
 * some steps or some of the columns' own usual spacings. Only rows in which all are null are touched.
 */
function bridge(time: readonly number[], columns: readonly Column[], stepMs: number): void {
  const known: number[] = []
  time.forEach((_, i) => {
    if (columns.some((column) => typeof column[i] === 'number')) known.push(i)
  })
  const at = (i: number): number => time[i] ?? 0
  const longest = GAP_STEPS * Math.max(stepMs, usualSpacing(known.map(at)))
  known.forEach((row, k) => {
    const next = known[k + 1]
    if (next === undefined || at(next) - at(row) > longest) return
    for (let i = row + 1; i < next; i++) for (const column of columns) column[i] = undefined
  })
}

/**
 * Columns for a chart from `from` to `to`: a row of nulls wherever rows are missing, so that the line breaks,
 * and one at each end, so that the axis spans the range even without data. `present` is put at the end when
 * it is newer than the series. `shown` converts to the unit on the axis.
 */
export function chartColumns(
  series: BedSeries | null,
  options: {
    from: number
    to: number
    present: Present | null
    shown: (stored: number) => number
  },
): ChartColumns {
  const { from, to, present, shown } = options
  const columns: ChartColumns = {
    time: [],
    value: [],
    low: [],
    high: [],
    lowest: [],
    highest: [],
    spots: (series?.spots ?? []).map(({ spot, probe }) => ({
      spot,
      probe,
      counted: [],
      leftOut: [],
    })),
  }
  const put = (x: number | null | undefined): number | null =>
    x === null || x === undefined || !Number.isFinite(x) ? null : shown(x)
  const blank = (at: number): void => {
    columns.time.push(at)
    for (const column of [
      columns.value,
      columns.low,
      columns.high,
      columns.lowest,
      columns.highest,
    ]) {
      column.push(null)
    }
    for (const spot of columns.spots) {
      spot.counted.push(null)
      spot.leftOut.push(null)
    }
  }
  const times = series?.time ?? []
  const step = Math.max(series?.stepMs ?? 0, usualSpacing(times))
  let before: number | null = null
  if ((times[0] ?? Infinity) > from) blank(from)
  times.forEach((at, i) => {
    if (series === null) return
    if (before !== null && at - before > GAP_STEPS * step) blank(before + 1)
    before = at
    columns.time.push(at)
    columns.value.push(put(series.value[i]))
    columns.low.push(put(series.low[i]))
    columns.high.push(put(series.high[i]))
    const [least, most] = [series.min[i], series.max[i]]
    const apart = typeof least === 'number' && typeof most === 'number' && least < most
    columns.lowest.push(apart ? put(least) : null)
    columns.highest.push(apart ? put(most) : null)
    series.spots.forEach((spot, s) => {
      const value = put(spot.value[i])
      const out = spot.leftOut[i] === true
      const outBefore = i > 0 && spot.leftOut[i - 1] === true
      const mine = columns.spots[s]
      mine?.counted.push(out ? null : value)
      // The first counted point after a left-out stretch closes the faint line, so that no hole is seen.
      mine?.leftOut.push(out || outBefore ? value : null)
    })
  })
  if (present?.status === 'ok' && present.at < to && present.at > (before ?? -Infinity)) {
    const last = before as number | null
    if (last !== null && present.at - last > GAP_STEPS * step) blank(last + 1)
    if (present.at >= from) {
      columns.time.push(present.at)
      columns.value.push(put(present.value))
      columns.low.push(put(present.value - present.halfWidth))
      columns.high.push(put(present.value + present.halfWidth))
      columns.lowest.push(null)
      columns.highest.push(null)
      for (const spot of columns.spots) {
        spot.counted.push(null)
        spot.leftOut.push(null)
      }
    }
  }
  for (const column of [columns.value, columns.low, columns.high]) {
    bridge(columns.time, [column], step)
  }
  for (const spot of columns.spots) bridge(columns.time, [spot.counted, spot.leftOut], step)
  if ((columns.time.at(-1) ?? -Infinity) < to) blank(to)
  return columns
}

/** Lowest and highest of what is known; null when nothing is. */
export function extent(columns: readonly Column[]): readonly [number, number] | null {
  let low = Infinity
  let high = -Infinity
  for (const column of columns) {
    for (const x of column) {
      if (typeof x !== 'number') continue
      if (x < low) low = x
      if (x > high) high = x
    }
  }
  return low <= high ? [low, high] : null
}

/** An axis that holds the data and the band with some room, and never magnifies noise beyond `least`. */
export function axisRange(
  data: readonly [number, number] | null,
  band: { low: number; high: number } | null,
  least: number,
): readonly [number, number] {
  const low = Math.min(data?.[0] ?? Infinity, band?.low ?? Infinity)
  const high = Math.max(data?.[1] ?? -Infinity, band?.high ?? -Infinity)
  if (low > high) return [0, least]
  const room = Math.max(0.1 * (high - low), (least - (high - low)) / 2)
  return [low - room, high + room]
}

/** How many times the line breaks between its first and last point. */
export function countGaps(value: Column): number {
  const first = value.findIndex((x) => typeof x === 'number')
  const last = value.findLastIndex((x) => typeof x === 'number')
  let gaps = 0
  for (let i = first + 1; i <= last; i++) {
    if (value[i] === null && value[i - 1] !== null) gaps++
  }
  return first < 0 ? 0 : gaps
}
