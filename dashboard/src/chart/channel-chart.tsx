import { timeAxis, valueAxis } from './axes.ts'
import { useMemo, useRef } from 'preact/hooks'
import type uPlot from 'uplot'
import type { ChannelSeries } from '../../../hub/api/schemas/probe.ts'
import { localeOf, upTo } from '../format.ts'
import type { Units } from '../format.ts'
import type { Tick } from '../zone.ts'
import { axisRange, breakAtSilence, extent } from './columns.ts'
import { loneDots } from './lone-dots.ts'
import { usePalette } from './palette.ts'
import { Plot } from './plot.tsx'
import type { Range } from './range.ts'

interface ChannelChartProps {
  readonly series: ChannelSeries | null
  readonly range: Range
  readonly ticks: readonly Tick[]
  readonly units: Units
}

/** One channel of a probe as sent: the middle as a line, lowest to highest as a shade. */
export function ChannelChart(props: ChannelChartProps) {
  const palette = usePalette()
  const { series } = props
  const latest = useRef(props)
  latest.current = props
  const data = useMemo(
    () =>
      series === null
        ? [[], [], [], []]
        : breakAtSilence(series.time, [series.median, series.min, series.max]),
    [series],
  )
  const y = useRef<readonly [number, number]>([0, 1])
  y.current = series === null ? [0, 1] : axisRange(extent([series.min, series.max]), null, 1)
  const build = (): Omit<uPlot.Options, 'width' | 'height'> => ({
    padding: [10, 8, 0, 0],
    scales: {
      x: { time: true, range: () => [latest.current.range.from, latest.current.range.to] },
      y: { range: () => [...y.current] as [number, number] },
    },
    axes: [
      timeAxis(palette, () => latest.current.ticks),
      valueAxis(palette, (v) => upTo(v, 2, latest.current.units), {
        size: 56,
      }),
    ],
    series: [
      {},
      { stroke: palette.ink, width: 2, points: loneDots(palette, 5) },
      { width: 0, points: { show: false } },
      { width: 0, points: { show: false } },
    ],
    bands: [{ series: [3, 2], fill: palette.shade }],
    cursor: { show: false },
  })
  return (
    <Plot
      build={build}
      buildKey={JSON.stringify([palette, localeOf(props.units)])}
      data={data as uPlot.AlignedData}
      height={170}
      drawKey={`${props.range.from} ${props.range.to} ${props.ticks.length}`}
    />
  )
}
