import { PH_STEPS, timeAxis, valueAxis } from '../../chart/axes.ts'
import { useMemo, useRef } from 'preact/hooks'
import type uPlot from 'uplot'
import type { Course } from '../../../../hub/api/schemas/planning.ts'
import { axisRange, extent } from '../../chart/columns.ts'
import { nearest } from '../../chart/near.ts'
import { paintBand } from '../../chart/paint.ts'
import type { BandEdges } from '../../chart/paint.ts'
import type { ChartMark } from '../../chart/chart-keys.tsx'
import { paintNow } from '../../chart/paint-fan.ts'
import type { Palette } from '../../chart/palette.ts'
import { ReadPlot } from '../../chart/read-plot.tsx'
import type { Range } from '../../chart/range.ts'
import { dateOnly, localeOf, num } from '../../format.ts'
import type { Units } from '../../format.ts'
import { say } from '../../say.ts'
import type { Tick } from '../../zone.ts'

export interface CourseChartProps {
  /** What is expected, pH. */
  readonly course: Course
  /** What was measured, day by day. */
  readonly points: {
    readonly time: readonly number[]
    readonly value: readonly (number | null)[]
  } | null
  readonly samples: readonly { readonly at: number; readonly ph: number }[]
  readonly portions: readonly { readonly at: number; readonly done: boolean }[]
  readonly retests: readonly number[]
  readonly band: BandEdges | null
  readonly now: number
  readonly range: Range
  readonly ticks: readonly Tick[]
  readonly units: Units
  readonly zone: string
  readonly name: string
}

const DAY = 86_400_000
/** A point belongs to a day when it lies so near. */
const NEAR_MS = 4 * DAY

/** What was measured about a day; null when nothing was. */
export function measuredAt(
  points: NonNullable<CourseChartProps['points']>,
  at: number,
): number | null {
  const i = nearest(points.time, at)
  return Math.abs((points.time[i] ?? -Infinity) - at) <= NEAR_MS ? (points.value[i] ?? null) : null
}

/** Days as dots of ink, samples as crosses. */
function paintMeasured(u: uPlot, { points, samples }: CourseChartProps, palette: Palette): void {
  const { ctx } = u
  const px = devicePixelRatio
  ctx.fillStyle = palette.ink
  points?.time.forEach((time, i) => {
    const value = points.value[i]
    if (typeof value !== 'number') return
    ctx.beginPath()
    ctx.arc(u.valToPos(time, 'x', true), u.valToPos(value, 'y', true), 1.9 * px, 0, 2 * Math.PI)
    ctx.fill()
  })
  ctx.fillStyle = palette.mark
  for (const { at, ph } of samples) {
    const x = u.valToPos(at, 'x', true)
    const y = u.valToPos(ph, 'y', true)
    const [long, thick] = [6 * px, 2 * px]
    ctx.fillRect(x - long, y - thick, 2 * long, 2 * thick)
    ctx.fillRect(x - thick, y - long, 2 * thick, 2 * long)
  }
}

/** Portions as triangles at the foot, filled once they are on; re-tests as ticks at the head. */
function paintDays(u: uPlot, { portions, retests }: CourseChartProps, palette: Palette): void {
  const { left, top, width, height } = u.bbox
  const { ctx } = u
  const px = devicePixelRatio
  const foot = top + height
  ctx.strokeStyle = ctx.fillStyle = palette.mark
  ctx.lineWidth = 1.5 * px
  for (const { at, done } of portions) {
    const x = u.valToPos(at, 'x', true)
    if (x < left || x > left + width) continue
    // At the edges the sign keeps within the paper.
    const middle = Math.min(left + width - 7 * px, Math.max(left + 7 * px, x))
    ctx.beginPath()
    ctx.moveTo(middle, foot - 13 * px)
    ctx.lineTo(middle + 6 * px, foot - 2 * px)
    ctx.lineTo(middle - 6 * px, foot - 2 * px)
    ctx.closePath()
    if (done) ctx.fill()
    else ctx.stroke()
  }
  ctx.beginPath()
  for (const at of retests) {
    const x = u.valToPos(at, 'x', true)
    ctx.moveTo(x, top)
    ctx.lineTo(x, top + 9 * px)
  }
  ctx.stroke()
}

/** The pH as it is expected, as a shade about its middle, and as it was measured, in ink. */
export function CourseChart(props: CourseChartProps) {
  const latest = useRef(props)
  latest.current = props
  const { course, range, points, samples } = props
  const data = useMemo(() => [course.time, course.typical, course.low, course.high], [course])
  const y = useRef<readonly [number, number]>([0, 1])
  y.current = axisRange(
    extent([course.low, course.high, [...(points?.value ?? [])], samples.map(({ ph }) => ph)]),
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
      { stroke: palette.ink, width: 1.75, dash: [7, 4], points: { show: false } },
      { width: 0, points: { show: false } },
      { width: 0, points: { show: false } },
    ],
    bands: [{ series: [3, 2], fill: palette.shade }],
    hooks: {
      drawClear: [(u) => paintBand(u, 'stripe', latest.current.band, palette)],
      drawAxes: [(u) => paintBand(u, 'edges', latest.current.band, palette)],
      draw: [
        (u) => {
          const { ctx, bbox } = u
          ctx.save()
          ctx.setLineDash([])
          ctx.beginPath()
          ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height)
          ctx.clip()
          paintMeasured(u, latest.current, palette)
          paintDays(u, latest.current, palette)
          ctx.restore()
          paintNow(u, latest.current.now, palette)
        },
      ],
    },
  })
  const { units, zone } = props
  const n = (ph: number | null | undefined): string => num(ph, 2, units)
  const day = (at: number): string => dateOnly(at, { zone, units })
  const read = (at: number): string => {
    const i = nearest(course.time, at)
    const expected = say`${day(at)}: expected ${n(course.typical[i])} (${n(course.low[i])} to ${n(course.high[i])})`
    const measured = points === null ? null : measuredAt(points, at)
    return measured === null ? expected : say`${expected}; measured ${n(measured)}`
  }
  const marks: ChartMark[] = [
    ...props.portions.map(({ at, done }, i): ChartMark => ({
      id: `portion ${i}`,
      at,
      edge: 'foot',
      words: done ? say`Portion, on since ${day(at)}` : say`Portion, due ${day(at)}`,
    })),
    ...props.retests.map((at, i): ChartMark => ({
      id: `retest ${i}`,
      at,
      edge: 'head',
      words: say`Measure again, ${day(at)}`,
    })),
    ...samples.map(({ at, ph }, i): ChartMark => ({
      id: `sample ${i}`,
      at,
      edge: 'head',
      words: say`Sample, ${day(at)}: pH ${n(ph)}`,
    })),
  ]
  return (
    <ReadPlot
      name={props.name}
      times={course.time}
      read={read}
      marks={marks}
      build={build}
      buildKey={localeOf(props.units)}
      data={data as uPlot.AlignedData}
      height={230}
      drawKey={JSON.stringify([
        range,
        props.band,
        points?.time.length,
        samples.length,
        props.portions,
        props.retests,
      ])}
    />
  )
}
