import { useId } from 'preact/hooks'
import type { BedSeries } from '../../../../hub/api/schemas/bed.ts'
import type { SharedBed } from '../../../../hub/api/schemas/account.ts'
import { dateOnly, num } from '../../format.ts'
import { say } from '../../say.ts'
import { runsOf, scaleOf } from './trend-shape.ts'

const WIDTH = 720
const HEIGHT = 220
const LEFT = 44
const BOTTOM = 26
/** Room for half a line of text above the highest mark. */
const TOP = 10

/** The pH of a shared bed as a line within its band, with the numbers as a table. Nothing in it moves. */
export function Trend({ series, bed }: { series: BedSeries; bed: SharedBed }) {
  const id = useId()
  const { garden } = bed
  const { band } = bed.band
  const known = series.value.filter((value) => value !== null)
  if (known.length < 2) return <p class="quiet-line">{say`No trend yet.`}</p>
  const scale = scaleOf(known, band)
  const x = (at: number): number =>
    LEFT + ((at - series.from) / (series.to - series.from)) * (WIDTH - LEFT)
  const y = (ph: number): number =>
    TOP + (1 - (ph - scale.low) / (scale.high - scale.low)) * (HEIGHT - BOTTOM - TOP)
  const first = known[0]!
  const last = known.at(-1)!
  const decimals = garden.units
  return (
    <figure class="shared-trend">
      <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} role="img" aria-labelledby={id}>
        <title id={id}>
          {say`pH from ${dateOnly(series.from, garden)} to ${dateOnly(series.to, garden)}: ${num(first, 1, decimals)} at first, ${num(last, 1, decimals)} at last, between ${num(Math.min(...known), 1, decimals)} and ${num(Math.max(...known), 1, decimals)}.`}
        </title>
        {band !== null && (
          <rect
            class="trend-band"
            x={LEFT}
            width={WIDTH - LEFT}
            y={y(Math.min(band.high, scale.high))}
            height={y(Math.max(band.low, scale.low)) - y(Math.min(band.high, scale.high))}
          />
        )}
        {scale.ticks.map((ph) => (
          <g key={ph}>
            <line class="trend-rule" x1={LEFT} x2={WIDTH} y1={y(ph)} y2={y(ph)} />
            <text x={LEFT - 8} y={y(ph) + 4} text-anchor="end">
              {num(ph, 1, decimals)}
            </text>
          </g>
        ))}
        {runsOf(series).map((run) => (
          <polyline
            key={run[0]!.at}
            class="trend-line"
            points={run
              .map((point) => `${x(point.at).toFixed(1)},${y(point.ph).toFixed(1)}`)
              .join(' ')}
          />
        ))}
        <text x={LEFT} y={HEIGHT - 6}>
          {dateOnly(series.from, garden)}
        </text>
        <text x={WIDTH} y={HEIGHT - 6} text-anchor="end">
          {dateOnly(series.to, garden)}
        </text>
      </svg>
      <details>
        <summary>{say`The numbers as a table`}</summary>
        <table class="plain">
          <thead>
            <tr>
              <th scope="col">{say`Day`}</th>
              <th scope="col">{say`pH`}</th>
            </tr>
          </thead>
          <tbody>
            {runsOf(series)
              .flat()
              .map(({ at, ph }) => (
                <tr key={at}>
                  <th scope="row">{dateOnly(at, garden)}</th>
                  <td>{num(ph, 2, decimals)}</td>
                </tr>
              ))}
          </tbody>
        </table>
      </details>
    </figure>
  )
}
