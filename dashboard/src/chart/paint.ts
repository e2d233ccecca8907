import type uPlot from 'uplot'
import type { Entry } from '../../../hub/api/schemas/journal.ts'
import type { JournalKind } from '../../../hub/model/journal.ts'
import type { Palette } from './palette.ts'

export interface BandEdges {
  readonly low: number
  readonly high: number
}

/** The crop band: its stripe goes under the rules of the paper, its broken edges over them. */
export function paintBand(
  u: uPlot,
  part: 'stripe' | 'edges',
  band: BandEdges | null,
  palette: Palette,
): void {
  if (band === null) return
  const { left, top, width, height } = u.bbox
  const bound = (y: number): number => Math.min(top + height, Math.max(top, y))
  const upper = bound(u.valToPos(band.high, 'y', true))
  const lower = bound(u.valToPos(band.low, 'y', true))
  const { ctx } = u
  ctx.save()
  if (part === 'stripe') {
    ctx.fillStyle = palette.band
    ctx.fillRect(left, upper, width, lower - upper)
    ctx.restore()
    return
  }
  ctx.strokeStyle = palette.bandEdge
  ctx.lineWidth = devicePixelRatio
  ctx.setLineDash([5 * devicePixelRatio, 4 * devicePixelRatio])
  ctx.beginPath()
  for (const y of [upper, lower]) {
    if (y <= top || y >= top + height) continue
    ctx.moveTo(left, Math.round(y) + 0.5)
    ctx.lineTo(left + width, Math.round(y) + 0.5)
  }
  ctx.stroke()
  ctx.restore()
}

/** Small text in CSS pixels at a place in canvas pixels. */
export function paintText(
  u: uPlot,
  text: string,
  at: { x: number; y: number; align: CanvasTextAlign; base?: CanvasTextBaseline; colour: string },
  palette: Palette,
): void {
  const { ctx } = u
  ctx.save()
  ctx.font = `${11 * devicePixelRatio}px ${palette.font}`
  ctx.fillStyle = at.colour
  ctx.textAlign = at.align
  ctx.textBaseline = at.base ?? 'middle'
  ctx.fillText(text, at.x, at.y)
  ctx.restore()
}

/** Signs of the journal, each a shape of its own; the list beneath shows the same signs as text. */
export const JOURNAL_SIGNS: Readonly<Record<JournalKind, string>> = {
  treatment: '▲',
  irrigation: '●',
  service: '◆',
  sample: '✚',
  note: '■',
}

function sign(
  ctx: CanvasRenderingContext2D,
  kind: JournalKind,
  x: number,
  y: number,
  r: number,
): void {
  ctx.beginPath()
  switch (kind) {
    case 'treatment':
      ctx.moveTo(x, y - r)
      ctx.lineTo(x + r, y + r)
      ctx.lineTo(x - r, y + r)
      break
    case 'irrigation':
      ctx.arc(x, y, r * 0.85, 0, 2 * Math.PI)
      break
    case 'service':
      ctx.moveTo(x, y - r * 1.1)
      ctx.lineTo(x + r, y)
      ctx.lineTo(x, y + r * 1.1)
      ctx.lineTo(x - r, y)
      break
    case 'sample':
      ctx.rect(x - r, y - r * 0.35, 2 * r, r * 0.7)
      ctx.rect(x - r * 0.35, y - r, r * 0.7, 2 * r)
      break
    case 'note':
      ctx.rect(x - r * 0.8, y - r * 0.8, 1.6 * r, 1.6 * r)
      break
  }
  ctx.closePath()
  ctx.fill()
}

/** Journal entries as ticks at the lower edge; a sample also as a cross at the pH it found. */
export function paintJournal(
  u: uPlot,
  entries: readonly Entry[],
  palette: Palette,
  options: { signs: boolean; highlighted: number | null; samples: boolean },
): void {
  const { left, top, width, height } = u.bbox
  const { ctx } = u
  const px = devicePixelRatio
  ctx.save()
  // Set by the line drawn before.
  ctx.setLineDash([])
  for (const entry of entries) {
    const x = u.valToPos(entry.at, 'x', true)
    if (!(x >= left && x <= left + width)) continue
    const lit = entry.id === options.highlighted
    ctx.strokeStyle = ctx.fillStyle = palette.mark
    ctx.lineWidth = (lit ? 2.5 : 1.25) * px
    const foot = top + height
    const tall = lit ? height : (options.signs ? 9 : 7) * px
    ctx.beginPath()
    ctx.moveTo(x, foot)
    ctx.lineTo(x, foot - tall)
    ctx.stroke()
    if (options.signs) sign(ctx, entry.kind, x, foot - 14 * px, (lit ? 6 : 4.5) * px)
    if (options.samples && entry.kind === 'sample' && entry.ph !== null) {
      sign(ctx, 'sample', x, u.valToPos(entry.ph, 'y', true), 6 * px)
    }
  }
  ctx.restore()
}

/** Alarms as broken uprights with a flag at the upper edge. */
export function paintAlarms(u: uPlot, times: readonly number[], palette: Palette): void {
  const { left, top, width, height } = u.bbox
  const { ctx } = u
  const px = devicePixelRatio
  ctx.save()
  ctx.strokeStyle = ctx.fillStyle = palette.ink
  for (const at of times) {
    const x = u.valToPos(at, 'x', true)
    if (!(x >= left && x <= left + width)) continue
    ctx.lineWidth = 1.25 * px
    ctx.setLineDash([2 * px, 3 * px])
    ctx.beginPath()
    ctx.moveTo(x, top)
    ctx.lineTo(x, top + height)
    ctx.stroke()
    ctx.setLineDash([])
    ctx.beginPath()
    ctx.moveTo(x, top)
    ctx.lineTo(x + 11 * px, top + 4.5 * px)
    ctx.lineTo(x, top + 9 * px)
    ctx.fill()
  }
  ctx.restore()
}
