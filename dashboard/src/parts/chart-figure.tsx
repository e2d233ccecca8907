import { useState } from 'preact/hooks'
import type { ComponentChildren } from 'preact'
import { countGaps, extent } from '../chart/columns.ts'
import { dateOnly, dateTime } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import type { Range } from '../chart/range.ts'
import { withUnit } from '../quantity.ts'
import type { Charted } from './readout.tsx'

const ROWS_AT_MOST = 400

/** What a chart shows, in a sentence. */
function Summary({ columns, as, range }: Charted & { range: Range }) {
  const { garden } = useHub()
  const seen = extent([columns.value])
  const last = columns.value.findLast((x) => typeof x === 'number')
  if (seen === null) return <span class="faint">nothing known in this stretch of time</span>
  const gaps = countGaps(columns.value)
  return (
    <span class="faint">
      {dateOnly(range.from, garden)} to {dateOnly(range.to, garden)}: between{' '}
      {withUnit(seen[0], as, garden.units)} and {withUnit(seen[1], as, garden.units)}, at the end{' '}
      {withUnit(last, as, garden.units)}
      {gaps > 0 && (gaps === 1 ? ', one gap' : `, ${gaps} gaps`)}
    </span>
  )
}

/** The same numbers as a table, thinned to what can be read. */
function Numbers({ columns, as }: Charted) {
  const { garden } = useHub()
  const known = columns.time.flatMap((at, i) =>
    typeof columns.value[i] === 'number' ? [{ at, i }] : [],
  )
  const every = Math.max(1, Math.ceil(known.length / ROWS_AT_MOST))
  const rows = known.filter((_, k) => (known.length - 1 - k) % every === 0).toReversed()
  const write = (value: number | null | undefined): string => withUnit(value, as, garden.units)
  return (
    // oxlint-disable-next-line jsx-a11y/no-noninteractive-tabindex -- it scrolls, so the keyboard must reach it
    <div class="scroll numbers" tabIndex={0} role="region" aria-label={`${as.words} as numbers`}>
      <table>
        <caption>
          {as.words}, newest first{every > 1 ? `, every ${every} points` : ''}
        </caption>
        <thead>
          <tr>
            <th scope="col">When</th>
            <th scope="col">Bed</th>
            <th scope="col">95 % interval</th>
            {columns.spots.map((spot) => (
              <th scope="col" key={spot.spot}>
                {spot.spot}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map(({ at, i }) => (
            <tr key={at}>
              <td>{dateTime(at, garden)}</td>
              <td>{write(columns.value[i])}</td>
              <td>
                {write(columns.low[i])} to {write(columns.high[i])}
              </td>
              {columns.spots.map((spot) => (
                <td key={spot.spot}>
                  {write(spot.counted[i] ?? spot.leftOut[i])}
                  {typeof spot.counted[i] !== 'number' &&
                    typeof spot.leftOut[i] === 'number' &&
                    ' (left out)'}
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}

/** A chart with its name, its summary in words and its numbers on demand. */
export function ChartFigure(
  props: Charted & { range: Range; note?: string; children: ComponentChildren },
) {
  const [open, setOpen] = useState(false)
  return (
    <figure>
      <figcaption>
        <strong>
          {props.as.words}
          {props.as.unit !== '' && `, ${props.as.unit}`}
        </strong>
        <Summary columns={props.columns} as={props.as} range={props.range} />
        {props.note !== undefined && <span class="faint">{props.note}</span>}
      </figcaption>
      {props.children}
      <details onToggle={(event) => setOpen(event.currentTarget.open)}>
        <summary class="faint">{props.as.words} as numbers</summary>
        {open && <Numbers columns={props.columns} as={props.as} />}
      </details>
    </figure>
  )
}
