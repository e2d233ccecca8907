import type uPlot from 'uplot'
import type { EventView, Findings } from '../../../hub/api/schemas/findings.ts'
import { eventCorners } from '../event-sign.ts'
import { say } from '../say.ts'
import { paintText } from './paint.ts'
import type { Palette } from './palette.ts'

export type EventMark = Pick<EventView, 'id' | 'form' | 'onset' | 'endedAt' | 'size'>
/** The course that lies ahead, once one can be told. */
export type Fan = Extract<Findings['forecast'], { status: 'ok' }>

const HALF_PX = 6
/** Changes as stairs and slopes at the upper edge; a chosen one as an upright with its length. */
export function paintEvents(
  u: uPlot,
  events: readonly EventMark[],
  lit: string | null,
  palette: Palette,
): void {
  const { left, top, width, height } = u.bbox
  const { ctx } = u
  const px = devicePixelRatio
  const y = top + 18 * px
  ctx.save()
  ctx.strokeStyle = palette.mark
  ctx.lineJoin = 'round'
  ctx.setLineDash([])
  for (const event of events) {
    const x = u.valToPos(event.onset, 'x', true)
    if (!(x >= left && x <= left + width)) continue
    const chosen = event.id === lit
    ctx.lineWidth = (chosen ? 2.5 : 1.75) * px
    const half = HALF_PX * px * (chosen ? 1.25 : 1)
    // Near an edge the sign keeps within the paper; its upright stays where it is.
    const middle = Math.min(left + width - half - px, Math.max(left + half + px, x))
    ctx.beginPath()
    eventCorners(event).forEach(([cx, cy], i) => {
      if (i === 0) ctx.moveTo(middle + cx * half, y - cy * half)
      else ctx.lineTo(middle + cx * half, y - cy * half)
    })
    ctx.stroke()
    ctx.lineWidth = (chosen ? 2 : 1) * px
    ctx.beginPath()
    ctx.moveTo(x, y + half + 2 * px)
    ctx.lineTo(x, chosen ? top + height : y + half + 9 * px)
    if (chosen && event.endedAt !== null) {
      const end = Math.min(left + width, u.valToPos(event.endedAt, 'x', true))
      ctx.moveTo(x, y + half + 6 * px)
      ctx.lineTo(end, y + half + 6 * px)
      ctx.moveTo(end, y + half + 2 * px)
      ctx.lineTo(end, y + half + 10 * px)
    }
    ctx.stroke()
  }
  ctx.restore()
}

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
