import type uPlot from 'uplot'
import type { EventView } from '../../../hub/api/schemas/findings.ts'
import { eventCorners } from '../event-sign.ts'
import type { Palette } from './palette.ts'

export type EventMark = Pick<EventView, 'id' | 'form' | 'onset' | 'endedAt' | 'size'>

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
