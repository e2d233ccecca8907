import { timeAxis, valueAxis } from './axes.ts'
import { useMemo, useRef } from 'preact/hooks'
import type uPlot from 'uplot'
import type { ChannelSeries } from '../../../hub/api/schemas/probe.ts'
import { dateTime, localeOf, upTo } from '../format.ts'
import type { Units } from '../format.ts'
import { say } from '../say.ts'
import type { Tick } from '../zone.ts'
import { axisRange, extent } from './columns.ts'
import { paintDamaged } from './paint-damaged.ts'
import { breakAtSilence } from './silence.ts'
import { nearest } from './near.ts'
import { loneDots } from './lone-dots.ts'
import type { Palette } from './palette.ts'
import { ReadPlot } from './read-plot.tsx'
import type { Range } from './range.ts'

const NO_TIMES: readonly number[] = []

interface ChannelChartProps {
  readonly series: ChannelSeries | null
  readonly range: Range
  readonly ticks: readonly Tick[]
  readonly units: Units
  readonly zone: string
  /** Unit of the channel as people write it. */
  readonly unit: string
  readonly name: string
}

/** One channel of a probe as sent: the middle as a line, lowest to highest as a shade. */
export function ChannelChart(props: ChannelChartProps) {
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
  const build = (palette: Palette): Omit<uPlot.Options, 'width' | 'height'> => ({
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
    hooks: {
      drawClear: [(u) => paintDamaged(u, latest.current.series?.damaged ?? [], palette)],
    },
  })
  const read = (at: number): string => {
    const i = series === null ? -1 : nearest(series.time, at)
    const n = (x: number | null | undefined): string =>
      typeof x === 'number' ? upTo(x, 2, props.units) : '–'
    const when = dateTime(series?.time[i] ?? at, props)
    return say`${when}: ${n(series?.median[i])} ${props.unit} (${n(series?.min[i])} to ${n(series?.max[i])})`
  }
  return (
    <ReadPlot
      name={props.name}
      times={series?.time ?? NO_TIMES}
      read={read}
      build={build}
      buildKey={localeOf(props.units)}
      data={data as uPlot.AlignedData}
      height={170}
      drawKey={`${props.range.from} ${props.range.to} ${props.ticks.length}`}
    />
  )
}
