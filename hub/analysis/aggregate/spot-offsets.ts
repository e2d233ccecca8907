import { median } from '../stats/median.ts'

/** An offset learned over this many days is believed by half. */
const HALF_BELIEF_DAYS = 10

/**
 * How far each spot reads from its bed by habit, so that the bed value does not jump when one falls silent.
 * `columns`: one column of values per spot on one time grid, NaN where it does not count. The offset is the
 * median difference to the bed's median, shrunk by n / (n + 10) with n days of common values, and centred so
 * that all offsets together move nothing.
 */
export function spotOffsets(columns: readonly Float64Array[], stepMs: number): number[] {
  const rows = columns[0]?.length ?? 0
  const differences = columns.map((): number[] => [])
  const present: number[] = []
  for (let row = 0; row < rows; row++) {
    present.length = 0
    for (const column of columns) if (!Number.isNaN(column[row])) present.push(column[row]!)
    if (present.length < 2) continue
    const centre = smallMedian(present)
    for (let spot = 0; spot < columns.length; spot++) {
      const value = columns[spot]![row]!
      if (!Number.isNaN(value)) differences[spot]!.push(value - centre)
    }
  }
  const offsets = differences.map((of) => {
    if (of.length === 0) return 0
    const days = (of.length * stepMs) / 86_400_000
    return (median(of) * days) / (days + HALF_BELIEF_DAYS)
  })
  const seen = offsets.filter((_, spot) => differences[spot]!.length > 0)
  const centre = seen.length === 0 ? 0 : seen.reduce((sum, o) => sum + o, 0) / seen.length
  return offsets.map((offset, spot) => (differences[spot]!.length > 0 ? offset - centre : 0))
}

/** Median of a handful of values; sorts them in place. */
function smallMedian(values: number[]): number {
  values.sort((a, b) => a - b)
  const half = values.length >> 1
  return values.length % 2 === 1 ? values[half]! : (values[half - 1]! + values[half]!) / 2
}
