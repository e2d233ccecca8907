import type { ChartColumns } from '../chart/columns.ts'
import { nearestKnown } from '../chart/columns.ts'
import { dateTime } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import { withUnit } from '../quantity.ts'
import type { Shown } from '../quantity.ts'

export interface Charted {
  readonly columns: ChartColumns
  readonly as: Shown
}

/** The numbers under the cursor, of all charts at once. */
export function Readout({ at, charts }: { at: number | null; charts: readonly Charted[] }) {
  const { garden } = useHub()
  if (at === null) {
    return (
      <p class="readout faint">
        Point at a chart to read it off; drag across to look closer, double-click to go back. The
        buttons above do the same.
      </p>
    )
  }
  return (
    <p class="readout">
      <strong>{dateTime(at, garden)}</strong>
      {charts.map(({ columns, as }) => {
        const i = nearestKnown(columns.time, columns.value, at)
        const value = columns.value[i]
        const spots = columns.spots.map((spot) => {
          const counted = spot.counted[nearestKnown(columns.time, spot.counted, at)]
          const out = typeof counted !== 'number'
          const read = out ? spot.leftOut[nearestKnown(columns.time, spot.leftOut, at)] : counted
          if (typeof read !== 'number') return `${spot.spot} –`
          return `${spot.spot} ${withUnit(read, as, garden.units)}${out ? ' (left out)' : ''}`
        })
        return (
          <span key={as.words}>
            {' '}
            · {as.words}{' '}
            {value === null || value === undefined
              ? 'nothing known'
              : `${withUnit(value, as, garden.units)} (${withUnit(columns.low[i], as, garden.units)} to ${withUnit(columns.high[i], as, garden.units)})`}
            {spots.length > 0 && <span class="faint"> [{spots.join(', ')}]</span>}
          </span>
        )
      })}
    </p>
  )
}
