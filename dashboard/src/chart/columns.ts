import type { BedSeries, Present } from '../../../hub/api/schemas/bed.ts'

export type Column = (number | null)[]

/** One spot as two lines: where it counted, and where it was left out. */
export interface SpotColumns {
  readonly spot: string
  readonly probe: string
  readonly counted: Column
  readonly leftOut: Column
}
/** Columns of equal length, ascending in time; null is a gap. */
export interface ChartColumns {
  readonly time: number[]
  readonly value: Column
  readonly low: Column
  readonly high: Column
  readonly spots: readonly SpotColumns[]
}

/** Steps without a row from which on the line is broken. */
const GAP_STEPS = 2.5

function usualSpacing(time: readonly number[]): number {
  const spacings = time.slice(1).map((at, i) => at - (time[i] ?? at))
  return spacings.toSorted((a, b) => a - b)[Math.floor(spacings.length / 2)] ?? 0
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
    for (const column of [columns.value, columns.low, columns.high]) column.push(null)
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
      for (const spot of columns.spots) {
        spot.counted.push(null)
        spot.leftOut.push(null)
      }
    }
  }
  if ((columns.time.at(-1) ?? -Infinity) < to) blank(to)
  return columns
}

/** Lowest and highest of what is known; null when nothing is. */
export function extent(columns: readonly Column[]): readonly [number, number] | null {
  let low = Infinity
  let high = -Infinity
  for (const column of columns) {
    for (const x of column) {
      if (x === null) continue
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
  const room = Math.max(0.06 * (high - low), (least - (high - low)) / 2)
  return [low - room, high + room]
}

/** Index of the row nearest to a time; -1 for no rows. */
export function nearest(time: readonly number[], at: number): number {
  if (time.length === 0) return -1
  let low = 0
  let high = time.length - 1
  while (low < high) {
    const middle = (low + high) >> 1
    if ((time[middle] ?? 0) < at) low = middle + 1
    else high = middle
  }
  const left = Math.max(0, low - 1)
  return at - (time[left] ?? 0) <= (time[low] ?? 0) - at ? left : low
}

/** How many times the line breaks between its first and last point. */
export function countGaps(value: Column): number {
  const first = value.findIndex((x) => x !== null)
  const last = value.findLastIndex((x) => x !== null)
  let gaps = 0
  for (let i = first + 1; i <= last; i++) {
    if (value[i] === null && value[i - 1] !== null) gaps++
  }
  return first < 0 ? 0 : gaps
}
