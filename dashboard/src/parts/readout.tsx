import { nearestKnown } from '../chart/near.ts'
import type { ChartColumns } from '../chart/columns.ts'
import { dateTime } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import { withUnit } from '../quantity.ts'
import type { Shown } from '../quantity.ts'
import type { Units } from '../format.ts'
import { say } from '../say.ts'

export interface Charted {
  readonly columns: ChartColumns
  readonly as: Shown
}

/** What is known of one quantity at a time: the bed with its doubt, then each spot. */
export function readingWords({ columns, as }: Charted, at: number, units: Units): string {
  const i = nearestKnown(columns.time, columns.value, at)
  const value = columns.value[i]
  const write = (x: number | null | undefined): string => withUnit(x, as, units)
  const bed =
    typeof value === 'number'
      ? say`${as.words} ${write(value)} (${write(columns.low[i])} to ${write(columns.high[i])})`
      : say`${as.words}: nothing known`
  const spots = columns.spots.map((spot) => {
    const counted = spot.counted[nearestKnown(columns.time, spot.counted, at)]
    if (typeof counted === 'number') return `${spot.spot} ${write(counted)}`
    const out = spot.leftOut[nearestKnown(columns.time, spot.leftOut, at)]
    return typeof out === 'number' ? say`${spot.spot} ${write(out)} (left out)` : `${spot.spot} –`
  })
  return spots.length === 0 ? bed : `${bed} [${spots.join('; ')}]`
}

/** The numbers under the cursor, of all charts at once. */
export function Readout({ at, charts }: { at: number | null; charts: readonly Charted[] }) {
  const { garden } = useHub()
  if (at === null) {
    return (
      <p class="readout faint">
        {say`Point at a chart to read it off, or go to it with the Tab key and use the arrows. Drag across to look closer; two fingers, or the wheel with Ctrl, do the same. A double click, a double tap or Escape goes back.`}
      </p>
    )
  }
  return (
    <p class="readout">
      <strong>{dateTime(at, garden)}</strong>
      {charts.map((chart) => (
        <span key={chart.as.words}> · {readingWords(chart, at, garden.units)}</span>
      ))}
    </p>
  )
}
