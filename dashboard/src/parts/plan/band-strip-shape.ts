import type { NeedView } from '../../../../hub/api/schemas/planning.ts'

/** One published band of a crop, on the strip. An end that a source leaves open reaches to the edge of the paper. */
export interface PublishedLine {
  readonly crop: string
  readonly publisher: string
  readonly left: number
  readonly right: number
}
/** Places on the strip, 0 to 100 from the acid end. */
export interface BandStripShape {
  readonly low: number
  readonly high: number
  readonly ticks: readonly { readonly ph: number; readonly x: number }[]
  readonly band: { readonly left: number; readonly right: number } | null
  readonly published: readonly PublishedLine[]
  readonly value: { readonly x: number; readonly left: number; readonly right: number } | null
  readonly target: number | null
}

/** pH shown on either side of what is known. */
const ROOM_PH = 0.3
const LEAST_SPAN_PH = 2

/** Where band, published bands, value and aim lie on a strip of pH. */
export function bandStripShape(
  need: Pick<NeedView, 'ph' | 'band' | 'crops' | 'target'>,
): BandStripShape | null {
  const rows = need.crops.flatMap(({ name, published }) =>
    published.map(({ low, high, source }) => ({ crop: name, low, high, source })),
  )
  const known = [
    need.band?.low,
    need.band?.high,
    need.ph?.value,
    need.ph?.low,
    need.ph?.high,
    need.target,
    ...rows.flatMap(({ low, high }) => [low, high]),
  ].filter((ph) => typeof ph === 'number')
  if (known.length === 0) return null
  const middle = (Math.min(...known) + Math.max(...known)) / 2
  const half = Math.max(LEAST_SPAN_PH / 2, Math.max(...known) - middle + ROOM_PH)
  const low = Math.floor((middle - half) * 2) / 2
  const high = Math.ceil((middle + half) * 2) / 2
  const x = (ph: number): number => Math.round((1e4 * (ph - low)) / (high - low)) / 100
  const ticks = []
  for (let ph = low; ph <= high + 1e-9; ph += 0.5) ticks.push({ ph, x: x(ph) })
  const { ph, band, target } = need
  return {
    low,
    high,
    ticks,
    band: band === null ? null : { left: x(band.low), right: x(band.high) },
    published: rows.map((row) => ({
      crop: row.crop,
      publisher: row.source.publisher,
      left: row.low === null ? 0 : x(row.low),
      right: row.high === null ? 100 : x(row.high),
    })),
    value:
      ph === null || ph.value === null
        ? null
        : {
            x: x(ph.value),
            left: x(ph.low ?? ph.value),
            right: x(ph.high ?? ph.value),
          },
    target: target === null ? null : x(target),
  }
}
