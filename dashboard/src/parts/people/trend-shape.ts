import type { BedSeries } from '../../../../hub/api/schemas/bed.ts'

export interface TrendPoint {
  readonly at: number
  readonly ph: number
}

/** Values without a gap between them; a gap is a gap in the line. */
export function runsOf(series: Pick<BedSeries, 'time' | 'value'>): readonly TrendPoint[][] {
  const runs: TrendPoint[][] = []
  let run: TrendPoint[] | null = null
  for (const [i, at] of series.time.entries()) {
    const ph = series.value[i] ?? null
    if (ph === null) {
      run = null
      continue
    }
    if (run === null) {
      run = []
      runs.push(run)
    }
    run.push({ at, ph })
  }
  return runs
}

/** Narrower than that a scale makes noise look like news. */
const LEAST = 1

/** A scale of pH that holds the values and the band, with marks at every half. */
export function scaleOf(
  values: readonly number[],
  band: { readonly low: number; readonly high: number } | null,
): { readonly low: number; readonly high: number; readonly ticks: readonly number[] } {
  const all = band === null ? values : [...values, band.low, band.high]
  let low = Math.floor(Math.min(...all) * 2 - 0.2) / 2
  let high = Math.ceil(Math.max(...all) * 2 + 0.2) / 2
  if (high - low < LEAST) {
    low -= 0.5
    high += 0.5
  }
  const step = high - low > 4 ? 1 : 0.5
  const ticks: number[] = []
  for (let ph = Math.ceil(low / step) * step; ph <= high; ph += step) ticks.push(ph)
  return { low, high, ticks }
}
