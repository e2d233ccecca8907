import { hatch } from '../../chart/paint-damaged.ts'
import type { Palette } from '../../chart/palette.ts'
import type { DrawAgain } from '../../chart/picture-place.ts'
import { paperPalette } from './paper-palette.ts'

/** How something is drawn in a chart, and what it is. */
export interface LegendRow {
  readonly sign:
    | 'line'
    | 'broken'
    | 'stair'
    | 'shade'
    | 'band'
    | 'dots'
    | 'hatch'
    | '▲'
    | '●'
    | '◆'
    | '✚'
    | '■'
    | '⚑'
  readonly words: string
}

export interface PictureWords {
  readonly title: string
  /** What is shown, from when to when. */
  readonly subtitle: string
  readonly legend: readonly LegendRow[]
  /** Units, time zone. */
  readonly foot: readonly string[]
}

const WIDTH = 1200
const MARGIN = 28
const LINE = 22

function drawSign(
  ctx: CanvasRenderingContext2D,
  sign: LegendRow['sign'],
  x: number,
  y: number,
  palette: Palette,
): void {
  ctx.save()
  ctx.strokeStyle = ctx.fillStyle = palette.ink
  ctx.lineWidth = 2
  switch (sign) {
    case 'shade':
    case 'band':
      ctx.fillStyle = sign === 'shade' ? palette.shade : palette.band
      ctx.fillRect(x, y - 6, 26, 12)
      break
    case 'hatch':
      hatch(ctx, { x, y: y - 6, width: 26, height: 12 }, palette)
      break
    case 'stair':
      ctx.strokeStyle = palette.mark
      ctx.beginPath()
      ctx.moveTo(x + 4, y + 6)
      ctx.lineTo(x + 13, y + 6)
      ctx.lineTo(x + 13, y - 6)
      ctx.lineTo(x + 22, y - 6)
      ctx.stroke()
      break
    case 'dots':
      for (const dx of [4, 13, 22]) {
        ctx.beginPath()
        ctx.arc(x + dx, y, 2, 0, 2 * Math.PI)
        ctx.fill()
      }
      break
    case 'line':
    case 'broken':
      if (sign === 'broken') ctx.setLineDash([7, 4])
      ctx.beginPath()
      ctx.moveTo(x, y)
      ctx.lineTo(x + 26, y)
      ctx.stroke()
      break
    case '▲':
    case '●':
    case '◆':
    case '✚':
    case '■':
    case '⚑':
      ctx.fillStyle = palette.mark
      ctx.textAlign = 'center'
      ctx.fillText(sign, x + 13, y)
  }
  ctx.restore()
}

/** Breaks a text into lines that are no wider than `width`. */
function broken(ctx: CanvasRenderingContext2D, text: string, width: number): string[] {
  const lines: string[] = []
  let line = ''
  for (const word of text.split(' ')) {
    const longer = line === '' ? word : `${line} ${word}`
    if (line !== '' && ctx.measureText(longer).width > width) {
      lines.push(line)
      line = word
    } else line = longer
  }
  return line === '' ? lines : [...lines, line]
}

/** The chart as a PNG on white, with its title, what its signs mean, units and time zone. */
export async function pictureOf(draw: DrawAgain, words: PictureWords): Promise<Blob> {
  const palette = paperPalette()
  const chart = await draw(palette, WIDTH - 2 * MARGIN)
  const scale = chart.width / (WIDTH - 2 * MARGIN)
  const canvas = document.createElement('canvas')
  const ctx = canvas.getContext('2d')
  if (ctx === null) throw new Error('the browser has no 2d canvas')
  const small = `14px ${palette.font}`

  ctx.font = small
  const inside = WIDTH - 2 * MARGIN
  const subtitle = broken(ctx, words.subtitle, inside)
  const foot = words.foot.flatMap((text) => broken(ctx, text, inside))
  // Places of the legend: as many beside each other as there is room for.
  const places: { readonly row: LegendRow; readonly x: number; readonly line: number }[] = []
  let x = 0
  let line = 0
  for (const row of words.legend) {
    const width = 36 + ctx.measureText(row.words).width + 24
    if (x > 0 && x + width > inside) {
      x = 0
      line += 1
    }
    places.push({ row, x, line })
    x += width
  }
  const legendLines = words.legend.length === 0 ? 0 : line + 1
  const chartTop = MARGIN + 34 + subtitle.length * LINE + 8
  const chartHeight = chart.height / scale
  const legendTop = chartTop + chartHeight + 18
  const height = legendTop + (legendLines + foot.length) * LINE + MARGIN

  canvas.width = Math.round(WIDTH * scale)
  canvas.height = Math.round(height * scale)
  ctx.scale(scale, scale)
  ctx.fillStyle = '#fff'
  ctx.fillRect(0, 0, WIDTH, height)
  ctx.textBaseline = 'middle'
  ctx.fillStyle = palette.ink
  ctx.font = `600 22px ${palette.font}`
  ctx.fillText(words.title, MARGIN, MARGIN + 12, inside)
  ctx.font = small
  ctx.fillStyle = palette.faint
  subtitle.forEach((text, i) => ctx.fillText(text, MARGIN, MARGIN + 40 + i * LINE))
  ctx.drawImage(chart, MARGIN, chartTop, inside, chartHeight)
  for (const { row, x: left, line: down } of places) {
    const y = legendTop + down * LINE
    drawSign(ctx, row.sign, MARGIN + left, y, palette)
    ctx.fillStyle = palette.ink
    ctx.fillText(row.words, MARGIN + left + 34, y)
  }
  ctx.fillStyle = palette.faint
  foot.forEach((text, i) => ctx.fillText(text, MARGIN, legendTop + (legendLines + i) * LINE))
  return new Promise((resolve, reject) => {
    canvas.toBlob((blob) => {
      if (blob === null) reject(new Error('the browser made no picture of the canvas'))
      else resolve(blob)
    }, 'image/png')
  })
}
