import type { Column } from './columns.ts'

/**
 * Last row of every unbroken run of the line that is narrower than `least` on the axis, such as a first
 * reading on its own: a line alone would not be seen there.
 */
export function shortRuns(time: readonly number[], column: Column, least: number): number[] {
  const found: number[] = []
  let first = -1
  let last = -1
  const close = (): void => {
    if (first >= 0 && (time[last] ?? 0) - (time[first] ?? 0) < least) found.push(last)
    first = -1
  }
  column.forEach((value, i) => {
    if (value === null) close()
    if (typeof value !== 'number') return
    if (first < 0) first = i
    last = i
  })
  close()
  return found
}
