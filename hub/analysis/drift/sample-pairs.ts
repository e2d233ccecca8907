import { DAY } from '../../model/clock.ts'
import type { SampleMethod } from '../../model/journal.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import { median } from '../stats/median.ts'

/** A pH measured by hand or in a laboratory. */
export interface Sample {
  readonly at: number
  readonly ph: number
  readonly method: SampleMethod
}

/** A sample beside the bed of its days. */
export interface SamplePair {
  readonly at: number
  /** Bed value less sample, pH. */
  readonly difference: number
}

/** The bed value beside a sample is the median of the days this near. */
const NEAR_MS = 3 * DAY

/** Samples that have a bed value beside them, by method: each reads on its own scale, they are never mixed. */
export function samplePairs(
  bed: DailySeries,
  samples: readonly Sample[],
): ReadonlyMap<SampleMethod, readonly SamplePair[]> {
  const byMethod = new Map<SampleMethod, SamplePair[]>()
  for (const { at, ph, method } of samples) {
    const near = bed.value.filter((_, i) => Math.abs(bed.day[i]! + DAY / 2 - at) <= NEAR_MS)
    if (near.length === 0) continue
    const pair = { at, difference: median(near) - ph }
    const own = byMethod.get(method)
    if (own === undefined) byMethod.set(method, [pair])
    else own.push(pair)
  }
  return byMethod
}
