import type uPlot from 'uplot'
import type { Palette } from './palette.ts'

/** A stretch of time, epoch ms. */
export interface Stretch {
  readonly from: number
  readonly to: number
}

const APART_PX = 7

/** Hatches stretches in which readings are missing that were damaged; under everything that is drawn. */
export function paintDamaged(u: uPlot, stretches: readonly Stretch[], palette: Palette): void {
  const { left, top, width, height } = u.bbox
  const { ctx } = u
  const px = devicePixelRatio
  const bound = (t: number): number =>
    Math.min(left + width, Math.max(left, u.valToPos(t, 'x', true)))
  for (const { from, to } of stretches) {
    const [x0, x1] = [bound(from), bound(to)]
    if (x1 <= x0) continue
    ctx.save()
    ctx.beginPath()
    // A sliver of years is still to be seen.
    ctx.rect(x0, top, Math.max(x1 - x0, 2 * px), height)
    ctx.clip()
    ctx.strokeStyle = palette.faint
    ctx.globalAlpha = 0.5
    ctx.lineWidth = px
    ctx.beginPath()
    for (let x = x0 - height; x < x1 + 2 * px; x += APART_PX * px) {
      ctx.moveTo(x, top + height)
      ctx.lineTo(x + height, top)
    }
    ctx.stroke()
    ctx.restore()
  }
}
