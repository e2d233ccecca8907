import { PH_STEPS, timeAxis, valueAxis } from './axes.ts'
import { useMemo, useRef } from 'preact/hooks'
import type uPlot from 'uplot'
import type { BedSeries, Present } from '../../../hub/api/schemas/bed.ts'
import { dateOnly, localeOf, num } from '../format.ts'
import type { Units } from '../format.ts'
import { say } from '../say.ts'
import type { Tick } from '../zone.ts'
import { axisRange, chartColumns, extent } from './columns.ts'
import { nearest, nearestKnown } from './near.ts'
import { paintBand } from './paint.ts'
import type { BandEdges } from './paint.ts'
import { fanExtent, paintFan, paintNow } from './paint-fan.ts'
import type { Fan } from './paint-fan.ts'
import { phInk } from './palette.ts'
import type { Palette } from './palette.ts'
import { ReadPlot } from './read-plot.tsx'
import type { Range } from './range.ts'

interface FanChartProps {
  readonly series: BedSeries | null
  readonly present: Present
  readonly fan: Fan
  readonly now: number
  readonly band: BandEdges | null
  readonly range: Range
  readonly ticks: readonly Tick[]
  readonly units: Units
  readonly zone: string
  readonly name: string
}

/** The newest stretch of a bed's pH, and what may come of it, against the band. */
export function FanChart(props: FanChartProps) {
  const latest = useRef(props)
  latest.current = props
  const { series, range, present } = props
  const columns = useMemo(
    () => chartColumns(series, { ...range, present, shown: (x) => x }),
    [series, range, present],
  )
  const data = useMemo(() => [columns.time, columns.value, columns.low, columns.high], [columns])
  const y = useRef<readonly [number, number]>([0, 1])
  y.current = axisRange(
    extent([columns.value, fanExtent(props.fan, range.from, range.to)]),
    props.band,
    1.2,
  )
  const build = (palette: Palette): Omit<uPlot.Options, 'width' | 'height'> => ({
    padding: [10, 10, 0, 0],
    scales: {
      x: { time: true, range: () => [latest.current.range.from, latest.current.range.to] },
      y: { range: () => [...y.current] as [number, number] },
    },
    axes: [
      timeAxis(palette, () => latest.current.ticks),
      valueAxis(palette, (v) => num(v, 1, latest.current.units), {
        size: 46,
        steps: PH_STEPS,
      }),
    ],
    series: [
      {},
      { stroke: (u) => phInk(u, palette), width: 2, points: { show: false } },
      { width: 0, points: { show: false } },
      { width: 0, points: { show: false } },
    ],
    bands: [{ series: [3, 2], fill: palette.shade }],
    hooks: {
      drawClear: [(u) => paintBand(u, 'stripe', latest.current.band, palette)],
      drawAxes: [(u) => paintBand(u, 'edges', latest.current.band, palette)],
      draw: [
        (u) => {
          paintFan(u, latest.current.fan, latest.current.now, palette)
          paintNow(u, latest.current.now, palette)
        },
      ],
    },
  })
  const { fan, now, units, zone } = props
  const times = useMemo(
    () => [
      ...columns.time.filter((at, i) => at < now && typeof columns.value[i] === 'number'),
      ...fan.time.filter((at) => at >= now),
    ],
    [columns, fan, now],
  )
  const read = (at: number): string => {
    const n = (ph: number | null | undefined): string => num(ph, 2, units)
    const day = dateOnly(at, { zone, units })
    if (at < now) {
      const i = nearestKnown(columns.time, columns.value, at)
      return say`${day}: pH ${n(columns.value[i])} (${n(columns.low[i])} to ${n(columns.high[i])})`
    }
    const i = nearest(fan.time, at)
    return say`${day}: pH ${n(fan.q50[i])}; 1 time in 2 within ${n(fan.q25[i])} to ${n(fan.q75[i])}, 9 times in 10 within ${n(fan.q05[i])} to ${n(fan.q95[i])}`
  }
  return (
    <ReadPlot
      name={props.name}
      times={times}
      read={read}
      build={build}
      buildKey={localeOf(props.units)}
      data={data as uPlot.AlignedData}
      height={200}
      drawKey={[
        range.from,
        range.to,
        props.fan.time[0],
        props.fan.q50[0],
        props.band?.low,
        props.band?.high,
      ].join()}
    />
  )
}
