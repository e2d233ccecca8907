import type uPlot from 'uplot'
import type { Palette } from './palette.ts'

/** A stretch of time, epoch ms. */
export interface Stretch {
  readonly from: number
  readonly to: number
}

const APART_PX = 7

/** Hatches a rectangle; `px` is how many pixels of the canvas a CSS pixel has. */
export function hatch(
  ctx: CanvasRenderingContext2D,
  { x, y, width, height }: Readonly<Record<'x' | 'y' | 'width' | 'height', number>>,
  palette: Palette,
  px = 1,
): void {
  ctx.save()
  ctx.beginPath()
  ctx.rect(x, y, width, height)
  ctx.clip()
  ctx.strokeStyle = palette.faint
  ctx.globalAlpha = 0.5
  ctx.lineWidth = px
  ctx.beginPath()
  for (let at = x - height; at < x + width; at += APART_PX * px) {
    ctx.moveTo(at, y + height)
    ctx.lineTo(at + height, y)
  }
  ctx.stroke()
  ctx.restore()
}

/** Hatches stretches in which readings are missing that were damaged; under everything that is drawn. */
export function paintDamaged(u: uPlot, stretches: readonly Stretch[], palette: Palette): void {
  const { left, top, width, height } = u.bbox
  const px = devicePixelRatio
  const bound = (t: number): number =>
    Math.min(left + width, Math.max(left, u.valToPos(t, 'x', true)))
  for (const { from, to } of stretches) {
    const [x, end] = [bound(from), bound(to)]
    if (end <= x) continue
    // A sliver of years is still to be seen.
    hatch(u.ctx, { x, y: top, width: Math.max(end - x, 2 * px), height }, palette, px)
  }
}
