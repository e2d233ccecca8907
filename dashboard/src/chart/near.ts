import type { Column } from './columns.ts'

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

/** Index of the row nearest to a time, or where the line only passes through, of the nearest known beside it. */
export function nearestKnown(time: readonly number[], column: Column, at: number): number {
  const middle = nearest(time, at)
  if (column[middle] !== undefined) return middle
  let left = middle
  let right = middle
  while (left > 0 && column[left] === undefined) left--
  while (right < column.length - 1 && column[right] === undefined) right++
  return Math.abs((time[left] ?? 0) - at) <= Math.abs((time[right] ?? 0) - at) ? left : right
}
