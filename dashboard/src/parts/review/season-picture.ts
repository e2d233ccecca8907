import type { SeasonReportView } from '../../../../hub/api/schemas/review.ts'
import { HUES } from '../../chart/palette.ts'
import type { DrawAgain } from '../../chart/picture-place.ts'
import type { Tick } from '../../zone.ts'
import type { SeasonShape } from './season-shape.ts'

const HEIGHT = 260
const LEFT = 46
const BELOW = 26
/** A picture is looked at larger than a page is. */
const SCALE = 2

/** Draws a season on a canvas, from the shapes the page draws it with. */
export function drawSeason(
  shape: SeasonShape,
  {
    samples,
    treatments,
    ticks,
    write,
  }: {
    readonly samples: SeasonReportView['samples']
    readonly treatments: readonly { readonly at: number }[]
    readonly ticks: readonly Tick[]
    /** Writes a pH at its rule. */
    readonly write: (ph: number) => string
  },
): DrawAgain {
  return async (palette, width) => {
    const canvas = document.createElement('canvas')
    const ctx = canvas.getContext('2d')
    if (ctx === null) throw new Error('the browser has no 2d canvas')
    canvas.width = width * SCALE
    canvas.height = HEIGHT * SCALE
    ctx.scale(SCALE, SCALE)
    const [wide, high] = [width - LEFT - 8, HEIGHT - BELOW]
    const x = (percent: number): number => LEFT + (percent / 100) * wide
    const y = (percent: number): number => (percent / 100) * high
    const rule = (x1: number, y1: number, x2: number, y2: number): void => {
      ctx.beginPath()
      ctx.moveTo(x1, y1)
      ctx.lineTo(x2, y2)
      ctx.stroke()
    }
    const { band } = shape
    if (band !== null) {
      ctx.fillStyle = palette.band
      ctx.fillRect(LEFT, y(band.top), wide, y(band.bottom) - y(band.top))
    }
    ctx.font = `12px ${palette.font}`
    ctx.textBaseline = 'middle'
    ctx.lineWidth = 1
    ctx.strokeStyle = palette.rule
    ctx.fillStyle = palette.faint
    ctx.textAlign = 'right'
    for (const { ph, y: at } of shape.rules) {
      rule(LEFT, y(at), LEFT + wide, y(at))
      ctx.fillText(write(ph), LEFT - 8, Math.min(high - 6, Math.max(7, y(at))))
    }
    ctx.textAlign = 'left'
    for (const { at, label } of ticks) {
      rule(x(shape.x(at)), 0, x(shape.x(at)), high)
      ctx.fillText(label, x(shape.x(at)) + 2, high + BELOW / 2)
    }
    if (band !== null) {
      ctx.setLineDash([5, 4])
      ctx.strokeStyle = palette.bandEdge
      for (const edge of [band.top, band.bottom]) rule(LEFT, y(edge), LEFT + wide, y(edge))
      ctx.setLineDash([])
    }
    // The shapes are drawn on a paper of 100 by 100.
    const paper = new DOMMatrix([wide / 100, 0, 0, high / 100, LEFT, 0])
    const placed = (data: string): Path2D => {
      const path = new Path2D()
      path.addPath(new Path2D(data), paper)
      return path
    }
    ctx.fillStyle = palette.shade
    ctx.fill(placed(shape.shade))
    const ink = ctx.createLinearGradient(0, y(shape.y(HUES[0][0])), 0, y(shape.y(HUES[2][0])))
    for (const [ph, name] of HUES) {
      ink.addColorStop((ph - HUES[0][0]) / (HUES[2][0] - HUES[0][0]), palette[name])
    }
    ctx.strokeStyle = ink
    ctx.lineWidth = 2
    ctx.lineCap = ctx.lineJoin = 'round'
    ctx.stroke(placed(shape.line))
    ctx.fillStyle = palette.mark
    ctx.textAlign = 'center'
    for (const { at } of treatments) ctx.fillText('▲', x(shape.x(at)), high - 8)
    for (const { at, ph } of samples) ctx.fillText('✚', x(shape.x(at)), y(shape.y(ph)))
    return canvas
  }
}
