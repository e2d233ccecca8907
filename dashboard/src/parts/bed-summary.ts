import type { Garden } from '../../../hub/api/schemas/garden.ts'
import { countGaps, extent } from '../chart/columns.ts'
import type { ChartColumns } from '../chart/columns.ts'
import type { Range } from '../chart/range.ts'
import { dateOnly } from '../format.ts'
import { withUnit } from '../quantity.ts'
import type { Shown } from '../quantity.ts'
import { say } from '../say.ts'

/** What a chart shows, in a sentence. */
export function bedSummary(
  { columns, as }: { readonly columns: ChartColumns; readonly as: Shown },
  range: Range,
  garden: Garden,
): string {
  const { time, value } = columns
  const known = (i: number): boolean =>
    typeof value[i] === 'number' && (time[i] ?? 0) >= range.from && (time[i] ?? 0) <= range.to
  const oldest = time.findIndex((_, i) => known(i))
  const newest = time.findLastIndex((_, i) => known(i))
  const within = value.slice(oldest, newest + 1)
  const seen = oldest < 0 ? null : extent([within])
  if (seen === null) return say`nothing known in this stretch of time`
  const write = (value: number | null | undefined): string => withUnit(value, as, garden.units)
  const gaps = countGaps(within)
  const from = dateOnly(range.from, garden)
  const to = dateOnly(range.to, garden)
  const [low, high] = seen.map(write)
  const last = write(value[newest])
  const between = say`${from} to ${to}: between ${low ?? ''} and ${high ?? ''}, at the end ${last}`
  if (gaps === 0) return between
  return gaps === 1 ? say`${between}, one gap` : say`${between}, ${gaps} gaps`
}
