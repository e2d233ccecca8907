import { useMemo, useRef } from 'preact/hooks'
import type uPlot from 'uplot'
import type { Entry } from '../../../hub/api/schemas/journal.ts'
import type { Quantity } from '../../../hub/model/quantity.ts'
import { num } from '../format.ts'
import type { Units } from '../format.ts'
import type { Tick } from '../zone.ts'
import { ChartKeys } from './chart-keys.tsx'
import type { ChartMark } from './chart-keys.tsx'
import { axisRange, extent } from './columns.ts'
import { shortNames } from './short-names.ts'
import type { ChartColumns, Column } from './columns.ts'
import { loneDots } from './lone-dots.ts'
import { paintAlarms, paintBand, paintJournal, paintText } from './paint.ts'
import type { BandEdges } from './paint.ts'
import { paintEvents } from './paint-findings.ts'
import { paintDamaged } from './paint-damaged.ts'
import type { Stretch } from './paint-damaged.ts'
import { fanExtent, paintFan, paintNow } from './paint-fan.ts'
import type { EventMark } from './paint-findings.ts'
import type { Fan } from './paint-fan.ts'
import { paintExtremes } from './paint-extremes.ts'
import { phInk } from './palette.ts'
import type { Palette } from './palette.ts'
import { Plot } from './plot.tsx'
import type { Range } from './range.ts'

/** Dash patterns by which spots are told apart, CSS pixels. */
export const SPOT_DASHES: readonly (readonly number[])[] = [
  [7, 3],
  [2, 3],
  [9, 3, 2, 3],
  [1, 4],
  [14, 4],
  [5, 2, 1, 2, 1, 2],
]
const AXIS_PX = 46
/** About the width of a letter of a spot's name. */
const LETTER_PX = 7
const LEAST_SPAN: Readonly<Record<Quantity, number>> = { ph: 1.2, moisture: 20, temperature: 6 }
const DECIMALS: Readonly<Record<Quantity, number>> = { ph: 1, moisture: 0, temperature: 0 }

export interface BedChartProps {
  readonly quantity: Quantity
  readonly columns: ChartColumns
  readonly range: Range
  readonly ticks: readonly Tick[]
  readonly band: BandEdges | null
  readonly journal: readonly Entry[]
  readonly alarmTimes: readonly number[]
  readonly highlighted: number | null
  readonly events: readonly EventMark[]
  /** Id of the event that is chosen in the list. */
  readonly litEvent: string | null
  readonly fan: Fan | null
  /** Where readings are missing that were damaged. */
  readonly damaged: readonly Stretch[]
  readonly now: number
  readonly cursorAt: number | null
  readonly units: Units
  readonly height: number
  /** Time labels beneath; only the lowest chart needs them. */
  readonly labelled: boolean
  /** Room at the right for the spots' names, CSS px. */
  readonly rightPx: number
  /** How single readings are drawn: as dots, or where a step holds many, from its lowest to its highest. */
  readonly readings: 'none' | 'dots' | 'steps'
  readonly isZoomed: boolean
  readonly onZoom: (range: Range, goesOn?: boolean) => void
  readonly onReset: () => void
  /** Time under the cursor, or null when it left. */
  readonly onCursor: (at: number | null) => void
  readonly name: string
  /** What is known at a time, in words. */
  readonly read: (at: number) => string
  readonly marks: readonly ChartMark[]
}

/** Writes each spot's name at the end of its line, moved apart where they would cover each other. */
function paintSpotNames(u: uPlot, columns: ChartColumns, palette: Palette, rightPx: number): void {
  const { left, top, width, height } = u.bbox
  const short = shortNames(
    columns.spots.map(({ spot }) => spot),
    Math.floor(rightPx / LETTER_PX),
  )
  const names = columns.spots.flatMap((spot, s) => {
    const read = (i: number): number | null => spot.counted[i] ?? spot.leftOut[i] ?? null
    const value = read(columns.time.findLastIndex((_, i) => read(i) !== null))
    return value === null ? [] : [{ name: short[s] ?? '', y: u.valToPos(value, 'y', true) }]
  })
  const line = 13 * devicePixelRatio
  let before = top - line
  const placed = names
    .toSorted((a, b) => a.y - b.y)
    .map(({ name, y }) => {
      before = Math.max(y, before + line)
      return { name, y: before }
    })
  const over = Math.max(0, before - (top + height))
  for (const { name, y } of placed) {
    const x = left + width + 5 * devicePixelRatio
    paintText(u, name, { x, y: y - over, align: 'left', colour: palette.ink }, palette)
  }
}

/** One quantity of a bed over time. */
export function BedChart(props: BedChartProps) {
  const { columns, quantity, range } = props
  const latest = useRef(props)
  latest.current = props
  const data = useMemo(
    () => [
      columns.time,
      columns.value,
      columns.low,
      columns.high,
      ...columns.spots.flatMap((spot) => [spot.counted, spot.leftOut]),
    ],
    [columns],
  )
  const y = useMemo(() => {
    const extremes = props.readings === 'steps' ? [columns.lowest, columns.highest] : []
    const seen: Column[] = [
      columns.value,
      ...extremes,
      ...columns.spots.flatMap((s) => [s.counted, s.leftOut]),
    ]
    const samples = quantity === 'ph' ? props.journal.map((e) => e.ph) : []
    const ahead = fanExtent(props.fan, range.from, range.to)
    return axisRange(extent([...seen, samples, ahead]), props.band, LEAST_SPAN[quantity])
  }, [columns, props.band, quantity, props.journal, props.fan, range, props.readings])
  const known = useMemo(
    () => columns.time.filter((_, i) => typeof columns.value[i] === 'number'),
    [columns],
  )
  const yNow = useRef(y)
  yNow.current = y

  const build = (palette: Palette): Omit<uPlot.Options, 'width' | 'height'> => {
    const font = `12px ${palette.font}`
    const { labelled, rightPx } = latest.current
    return {
      padding: [10, rightPx, labelled ? 0 : 6, 0],
      scales: {
        x: { time: true, range: () => [latest.current.range.from, latest.current.range.to] },
        y: { range: () => [...yNow.current] as [number, number] },
      },
      axes: [
        {
          show: true,
          size: labelled ? 30 : 0,
          font,
          stroke: palette.faint,
          splits: () => latest.current.ticks.map(({ at }) => at),
          values: () => (labelled ? latest.current.ticks.map(({ label }) => label) : []),
          grid: { stroke: palette.rule, width: 1 },
          ticks: { show: labelled, stroke: palette.rule, width: 1, size: 5 },
        },
        {
          size: AXIS_PX,
          font,
          stroke: palette.faint,
          space: 26,
          ...(quantity === 'ph' ? { incrs: [0.1, 0.2, 0.5, 1, 2] } : {}),
          values: (_, splits) =>
            splits.map((v) => num(v, DECIMALS[quantity], latest.current.units)),
          grid: { stroke: palette.rule, width: 1 },
          ticks: { show: false },
        },
      ],
      series: [
        {},
        {
          stroke: (u) => (quantity === 'ph' ? phInk(u, palette) : palette.ink),
          width: 2.5,
          points: loneDots(palette, 6),
        },
        { width: 0, points: { show: false } },
        { width: 0, points: { show: false } },
        ...latest.current.columns.spots.flatMap((_, i): uPlot.Series[] => [
          {
            stroke: latest.current.readings === 'dots' ? 'transparent' : palette.ink,
            alpha: 0.75,
            width: 1,
            dash: [...(SPOT_DASHES[i % SPOT_DASHES.length] ?? [])],
            points:
              latest.current.readings === 'dots'
                ? { show: true, size: 4, width: 0, fill: palette.ink }
                : loneDots(palette, 4),
          },
          {
            stroke: palette.faint,
            alpha: 0.8,
            width: 1.5,
            dash: [1.5, 3],
            points: { show: false },
          },
        ]),
      ],
      bands: [{ series: [3, 2], fill: palette.shade }],
      cursor: {
        y: false,
        points: { show: false },
      },
      hooks: {
        drawClear: [
          (u) => {
            paintBand(u, 'stripe', latest.current.band, palette)
            paintDamaged(u, latest.current.damaged, palette)
          },
        ],
        drawAxes: [(u) => paintBand(u, 'edges', latest.current.band, palette)],
        draw: [
          (u) => {
            const now = latest.current
            if (now.fan !== null) {
              paintFan(u, now.fan, now.now, palette)
              paintNow(u, now.now, palette)
            }
            if (now.readings === 'steps') paintExtremes(u, now.columns, palette)
            paintEvents(u, now.events, now.litEvent, palette)
            paintJournal(u, now.journal, palette, {
              signs: now.quantity === 'ph',
              highlighted: now.highlighted,
              samples: now.quantity === 'ph',
            })
            paintAlarms(u, now.alarmTimes, palette)
            if (now.columns.spots.length > 0) paintSpotNames(u, now.columns, palette, now.rightPx)
          },
        ],
      },
    }
  }
  const buildKey = JSON.stringify([
    props.units,
    props.labelled,
    props.readings,
    props.rightPx,
    columns.spots.map((s) => s.spot),
  ])
  const drawKey = [
    range.from,
    range.to,
    props.highlighted,
    props.band?.low,
    props.band?.high,
    props.litEvent,
    props.fan?.time[0],
    ...props.alarmTimes,
    ...props.damaged.map((one) => one.from),
    ...props.events.map((e) => `${e.id}:${e.endedAt}`),
    ...props.journal.map((e) => `${e.id}:${e.at}:${e.kind}:${e.ph}`),
  ].join()
  return (
    <Plot
      build={build}
      buildKey={buildKey}
      data={data as uPlot.AlignedData}
      height={props.height}
      drawKey={drawKey}
      cursorAt={props.cursorAt}
      range={range}
      isZoomed={props.isZoomed}
      onZoom={props.onZoom}
      onReset={props.onReset}
      onCursor={props.onCursor}
      over={(box, plot) => (
        <ChartKeys
          box={box}
          plot={plot}
          name={props.name}
          times={known}
          read={props.read}
          marks={props.marks}
          onZoom={props.onZoom}
          onReset={props.isZoomed ? props.onReset : undefined}
        />
      )}
    />
  )
}
