import { useMemo, useRef } from 'preact/hooks'
import type uPlot from 'uplot'
import type { BedView } from '../../../hub/api/schemas/bed.ts'
import type { Entry } from '../../../hub/api/schemas/journal.ts'
import { ALARM_CHARTS, localeOf, num } from '../format.ts'
import type { Units } from '../format.ts'
import type { Tick } from '../zone.ts'
import { axisRange, extent } from './columns.ts'
import type { ChartColumns } from './columns.ts'
import { loneDots } from './lone-dots.ts'
import { paintAlarms, paintBand, paintJournal, paintText } from './paint.ts'
import { paintEvents } from './paint-findings.ts'
import type { EventMark } from './paint-findings.ts'
import { phInk } from './palette.ts'
import type { Palette } from './palette.ts'
import { Plot } from './plot.tsx'
import type { Range } from './range.ts'

const LEAST_SPAN_PH = 1.8

interface LaneChartProps {
  readonly bed: BedView
  readonly columns: ChartColumns
  readonly journal: readonly Entry[]
  /** The newest change that is still there. */
  readonly event: EventMark | null
  readonly range: Range
  readonly ticks: readonly Tick[]
  readonly units: Units
}

/** A bed's pH on its strip of the wall: line, shade, band, ticks; no axes, those are the wall's. */
export function LaneChart(props: LaneChartProps) {
  const { bed, columns, range, ticks, units } = props
  const latest = useRef(props)
  latest.current = props
  const data = useMemo(() => [columns.time, columns.value, columns.low, columns.high], [columns])
  const y = useMemo(() => {
    const line = extent([columns.value])
    return axisRange(line, bed.band.band, LEAST_SPAN_PH)
  }, [columns, bed.band.band])
  const yNow = useRef(y)
  yNow.current = y

  const build = (palette: Palette) => ({
    padding: [0, 0, 0, 0] as [number, number, number, number],
    scales: {
      x: {
        time: true,
        range: () => [latest.current.range.from, latest.current.range.to] as [number, number],
      },
      y: { range: () => [...yNow.current] as [number, number] },
    },
    axes: [
      {
        size: 0,
        ticks: { show: false },
        values: () => [],
        splits: () => latest.current.ticks.map(({ at }) => at),
        grid: { stroke: palette.rule, width: 1 },
      },
      {
        size: 0,
        ticks: { show: false },
        values: () => [],
        incrs: [0.5, 1, 2],
        space: 12,
        grid: { stroke: palette.rule, width: 1 },
      },
    ],
    series: [
      {},
      { stroke: (u: uPlot) => phInk(u, palette), width: 2, points: loneDots(palette, 5) },
      { width: 0, points: { show: false } },
      { width: 0, points: { show: false } },
    ],
    bands: [{ series: [3, 2] as [number, number], fill: palette.shade }],
    cursor: { show: false },
    hooks: {
      drawClear: [(u: uPlot) => paintBand(u, 'stripe', latest.current.bed.band.band, palette)],
      drawAxes: [(u: uPlot) => paintBand(u, 'edges', latest.current.bed.band.band, palette)],
      draw: [
        (u: uPlot) => {
          const { bed: now, journal, event, units: shownIn } = latest.current
          paintJournal(u, journal, palette, { signs: false, highlighted: null, samples: true })
          if (event !== null) paintEvents(u, [event], null, palette)
          const alarms = now.alarms.filter((a) => ALARM_CHARTS[a.kind] === 'ph')
          paintAlarms(
            u,
            alarms.map((a) => a.raisedAt),
            palette,
          )
          const edges = now.band.band
          if (edges === null) return
          const x = u.bbox.left + 4 * devicePixelRatio
          const line = 13 * devicePixelRatio
          const { top, height } = u.bbox
          const within = (y: number): number =>
            Math.min(top + height - line, Math.max(top + line, y))
          const label = (ph: number, base: CanvasTextBaseline): void =>
            paintText(
              u,
              num(ph, 1, shownIn),
              {
                x,
                y: within(u.valToPos(ph, 'y', true)),
                align: 'left',
                base,
                colour: palette.faint,
              },
              palette,
            )
          label(edges.high, 'bottom')
          label(edges.low, 'top')
        },
      ],
    },
  })
  const drawKey = [
    range.from,
    range.to,
    ticks.length,
    units,
    ...props.journal.map((e) => `${e.id}:${e.at}:${e.ph}`),
    props.event?.id,
    ...bed.alarms.map((a) => a.id),
  ].join()
  return (
    <Plot
      build={build}
      buildKey={localeOf(units)}
      data={data as uPlot.AlignedData}
      height="fill"
      drawKey={drawKey}
    />
  )
}
