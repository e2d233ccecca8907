import { PH_STEPS, timeAxis, valueAxis } from './axes.ts'
import { useMemo, useRef } from 'preact/hooks'
import type uPlot from 'uplot'
import type { EffectAnswer } from '../../../hub/api/schemas/findings.ts'
import { signed } from '../doubt.ts'
import { dateOnly, localeOf } from '../format.ts'
import type { Units } from '../format.ts'
import { say } from '../say.ts'
import type { Tick } from '../zone.ts'
import { axisRange, extent } from './columns.ts'
import { nearest, nearestKnown } from './near.ts'
import type { Palette } from './palette.ts'
import { ReadPlot } from './read-plot.tsx'
import type { Range } from './range.ts'

interface EffectChartProps {
  readonly answer: EffectAnswer
  /** When the treatment was given, epoch ms. */
  readonly at: number
  readonly range: Range
  readonly ticks: readonly Tick[]
  readonly units: Units
  readonly zone: string
  readonly name: string
}

/** Weekly values as rings, the level before as a broken line, the treatment as an upright. */
function paintWeeks(u: uPlot, { answer, at }: EffectChartProps, palette: Palette): void {
  const { left, top, width, height } = u.bbox
  const { ctx } = u
  const px = devicePixelRatio
  ctx.save()
  ctx.beginPath()
  ctx.rect(left, top, width, height)
  ctx.clip()
  ctx.strokeStyle = palette.faint
  ctx.lineWidth = 1.25 * px
  const zero = u.valToPos(0, 'y', true)
  ctx.setLineDash([5 * px, 4 * px])
  ctx.beginPath()
  ctx.moveTo(left, zero)
  ctx.lineTo(left + width, zero)
  ctx.stroke()
  ctx.setLineDash([])
  ctx.strokeStyle = ctx.fillStyle = palette.mark
  const given = u.valToPos(at, 'x', true)
  ctx.beginPath()
  ctx.moveTo(given, top)
  ctx.lineTo(given, top + height)
  ctx.stroke()
  ctx.beginPath()
  ctx.moveTo(given, top + height - 9 * px)
  ctx.lineTo(given + 4.5 * px, top + height)
  ctx.lineTo(given - 4.5 * px, top + height)
  ctx.fill()
  ctx.strokeStyle = palette.ink
  answer.points?.time.forEach((time, i) => {
    const value = answer.points?.value[i]
    if (typeof value !== 'number') return
    ctx.beginPath()
    ctx.arc(u.valToPos(time, 'x', true), u.valToPos(value, 'y', true), 2.25 * px, 0, 2 * Math.PI)
    ctx.stroke()
  })
  ctx.restore()
}

/** What a treatment did: the weeks, and the fitted course with its interval. */
export function EffectChart(props: EffectChartProps) {
  const latest = useRef(props)
  latest.current = props
  const { answer, range } = props
  const data = useMemo(() => {
    const { curve } = answer
    if (curve === null)
      return [
        [range.from, range.to],
        [null, null],
        [null, null],
        [null, null],
      ]
    return [curve.time, curve.value, curve.low, curve.high]
  }, [answer, range])
  const y = useRef<readonly [number, number]>([0, 1])
  const { curve, points } = answer
  y.current = axisRange(
    extent([[0], points?.value ?? [], curve?.value ?? [], curve?.low ?? [], curve?.high ?? []]),
    null,
    0.6,
  )
  const build = (palette: Palette): Omit<uPlot.Options, 'width' | 'height'> => ({
    padding: [10, 8, 0, 0],
    scales: {
      x: { time: true, range: () => [latest.current.range.from, latest.current.range.to] },
      y: { range: () => [...y.current] as [number, number] },
    },
    axes: [
      timeAxis(palette, () => latest.current.ticks),
      valueAxis(palette, (v) => signed(v, 1, latest.current.units), {
        size: 46,
        steps: PH_STEPS,
      }),
    ],
    series: [
      {},
      { stroke: palette.ink, width: 2, points: { show: false } },
      { width: 0, points: { show: false } },
      { width: 0, points: { show: false } },
    ],
    bands: [{ series: [3, 2], fill: palette.shade }],
    hooks: { draw: [(u) => paintWeeks(u, latest.current, palette)] },
  })
  const { units, zone } = props
  const times = useMemo(() => {
    const at = [...(answer.curve?.time ?? []), ...(answer.points?.time ?? [])]
    return [...new Set(at)].toSorted((a, b) => a - b)
  }, [answer])
  const read = (at: number): string => {
    const n = (x: number | null | undefined): string => signed(x, 2, units)
    const day = dateOnly(at, { zone, units })
    const parts: string[] = []
    if (points !== null && points.time.length > 0) {
      const i = nearestKnown(points.time, points.value, at)
      parts.push(say`week ${n(points.value[i])}`)
    }
    if (curve !== null && curve.time.length > 0) {
      const i = nearest(curve.time, at)
      parts.push(say`fitted ${n(curve.value[i])} (${n(curve.low[i])} to ${n(curve.high[i])})`)
    }
    return `${day}: ${parts.join('; ')}`
  }
  return (
    <ReadPlot
      name={props.name}
      times={times}
      read={read}
      marks={[
        {
          id: 'given',
          at: props.at,
          edge: 'foot',
          words: say`Put on: ${dateOnly(props.at, { zone, units })}`,
        },
      ]}
      build={build}
      buildKey={localeOf(props.units)}
      data={data as uPlot.AlignedData}
      height={170}
      drawKey={`${range.from} ${range.to} ${answer.points?.time.length ?? 0}`}
    />
  )
}
