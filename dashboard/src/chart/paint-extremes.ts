import type uPlot from 'uplot'
import type { ChartColumns } from './columns.ts'
import type { Palette } from './palette.ts'

/** Each step from its lowest to its highest single reading, as an upright: an hour or a day hides no extreme. */
export function paintExtremes(
  u: uPlot,
  { time, lowest, highest }: Pick<ChartColumns, 'time' | 'lowest' | 'highest'>,
  palette: Palette,
): void {
  const { left, top, width, height } = u.bbox
  const { ctx } = u
  ctx.save()
  ctx.beginPath()
  ctx.rect(left, top, width, height)
  ctx.clip()
  ctx.strokeStyle = palette.faint
  ctx.lineWidth = Math.max(1, devicePixelRatio)
  ctx.setLineDash([])
  ctx.beginPath()
  time.forEach((at, i) => {
    const [low, high] = [lowest[i], highest[i]]
    if (typeof low !== 'number' || typeof high !== 'number') return
    const x = u.valToPos(at, 'x', true)
    if (x < left || x > left + width) return
    ctx.moveTo(x, u.valToPos(low, 'y', true))
    ctx.lineTo(x, u.valToPos(high, 'y', true))
  })
  ctx.stroke()
  ctx.restore()
}
