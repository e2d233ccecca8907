import { GAP_STEPS, usualSpacing } from './columns.ts'

/** Rows of what was sent, with an empty row wherever the probe was silent for longer than it usually is. */
export function breakAtSilence(
  time: readonly number[],
  columns: readonly (readonly (number | null)[])[],
): [number[], ...(number | null)[][]] {
  const longest = GAP_STEPS * usualSpacing(time)
  const times: number[] = []
  const rows = columns.map((): (number | null)[] => [])
  time.forEach((at, i) => {
    const before = time[i - 1]
    if (before !== undefined && longest > 0 && at - before > longest) {
      times.push((before + at) / 2)
      for (const column of rows) column.push(null)
    }
    times.push(at)
    rows.forEach((column, c) => column.push(columns[c]?.[i] ?? null))
  })
  return [times, ...rows]
}
