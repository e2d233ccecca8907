import type uPlot from 'uplot'
import type { Findings } from '../../../hub/api/schemas/findings.ts'
import { say } from '../say.ts'
import { paintText } from './paint.ts'
import type { Palette } from './palette.ts'

/** The course that lies ahead, once one can be told. */
export type Fan = Extract<Findings['forecast'], { status: 'ok' }>

/**
 * What may come: two shades about a broken middle line. Its first day lies a step ahead; from `now` until then
 * it is drawn as wide as that day, which is rather too wide than too narrow.
 */
export function paintFan(u: uPlot, fan: Fan, now: number, palette: Palette): void {
  const { left, top, width, height } = u.bbox
  const { ctx } = u
  const trace = (column: readonly (number | null)[], backwards = false): [number, number][] => {
    const known = fan.time.flatMap((at, i): [number, number][] => {
      const ph = column[i]
      return typeof ph === 'number' ? [[at, ph]] : []
    })
    const [first] = known
    if (first !== undefined && first[0] > now) known.unshift([now, first[1]])
    const points = known.map(([at, ph]): [number, number] => [
      u.valToPos(at, 'x', true),
      u.valToPos(ph, 'y', true),
    ])
    return backwards ? points.toReversed() : points
  }
  const draw = (points: readonly [number, number][]): void => {
    ctx.beginPath()
    points.forEach(([x, y], i) => (i === 0 ? ctx.moveTo(x, y) : ctx.lineTo(x, y)))
  }
  ctx.save()
  ctx.beginPath()
  ctx.rect(left, top, width, height)
  ctx.clip()
  ctx.fillStyle = palette.shade
  for (const [low, high] of [
    [fan.q05, fan.q95],
    [fan.q25, fan.q75],
  ] as const) {
    draw([...trace(low), ...trace(high, true)])
    ctx.fill()
  }
  ctx.strokeStyle = palette.ink
  ctx.lineWidth = 1.75 * devicePixelRatio
  ctx.setLineDash([7 * devicePixelRatio, 4 * devicePixelRatio])
  draw(trace(fan.q50))
  ctx.stroke()
  ctx.restore()
}

/** The present as an upright with its name. */
export function paintNow(u: uPlot, at: number, palette: Palette): void {
  const { left, top, width, height } = u.bbox
  const x = u.valToPos(at, 'x', true)
  if (!(x > left && x < left + width)) return
  const { ctx } = u
  ctx.save()
  ctx.strokeStyle = palette.faint
  ctx.lineWidth = devicePixelRatio
  ctx.setLineDash([])
  ctx.beginPath()
  ctx.moveTo(x, top)
  ctx.lineTo(x, top + height)
  ctx.stroke()
  ctx.restore()
  const below = { y: top + height - 8 * devicePixelRatio, colour: palette.faint } as const
  paintText(u, say`now`, { x: x - 4 * devicePixelRatio, align: 'right', ...below }, palette)
}

/** Lowest and highest of a fan's wide shade from one time to another; null when none of it lies there. */
export function fanExtent(fan: Fan | null, from: number, to: number): (number | null)[] {
  if (fan === null) return []
  return fan.time.flatMap((at, i) =>
    at >= from && at <= to ? [fan.q05[i] ?? null, fan.q95[i] ?? null] : [],
  )
}
