import { PH_STEPS, timeAxis, valueAxis } from './axes.ts'
import { useMemo, useRef } from 'preact/hooks'
import type uPlot from 'uplot'
import type { BedSeries, Present } from '../../../hub/api/schemas/bed.ts'
import { localeOf, num } from '../format.ts'
import type { Units } from '../format.ts'
import type { Tick } from '../zone.ts'
import { axisRange, chartColumns, extent } from './columns.ts'
import { paintBand } from './paint.ts'
import type { BandEdges } from './paint.ts'
import { fanExtent, paintFan, paintNow } from './paint-findings.ts'
import type { Fan } from './paint-findings.ts'
import { phInk, usePalette } from './palette.ts'
import { Plot } from './plot.tsx'
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
}

/** The newest stretch of a bed's pH, and what may come of it, against the band. */
export function FanChart(props: FanChartProps) {
  const palette = usePalette()
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
  const build = (): Omit<uPlot.Options, 'width' | 'height'> => ({
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
    cursor: { show: false },
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
  return (
    <Plot
      build={build}
      buildKey={JSON.stringify([palette, localeOf(props.units)])}
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
