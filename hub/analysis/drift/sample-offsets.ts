import { WATER_LESS_CACL2 } from '../../agronomy/hand-measuring.ts'
import { type SampleMethod, isWaterScale } from '../../model/journal.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import { median } from '../stats/median.ts'
import { type Sample, samplePairs } from './sample-pairs.ts'
import { fixed, counted } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

/** How far samples of one method usually lie from the probes of a bed. */
export interface SampleOffset {
  readonly method: SampleMethod
  readonly pairs: number
  /** Sample less bed value, pH: the median of the pairs; null with fewer than three. */
  readonly offset: number | null
  /** Farthest pair from it, pH; null with fewer than three. */
  readonly within: number | null
  readonly sentence: string
}

/** Pairs an offset needs. */
export const LEAST_PAIRS = 3
/** Farther apart than this after the offset, and probe or sample is wrong: more than repeat samples differ (Leithold). */
const MOST_APART = 0.5

/**
 * The offset between sample and probe for each method, from three or more pairs of that method alone: a laboratory
 * sets the level, the probes show how it moves. No scale is turned into another.
 */
export function sampleOffsets(
  bed: DailySeries,
  samples: readonly Sample[],
): readonly SampleOffset[] {
  return Array.from(samplePairs(bed, samples), ([method, pairs]): SampleOffset => {
    const n = pairs.length
    const scale = isWaterScale(method)
      ? ''
      : ` ${say`Calcium chloride reads about ${WATER_LESS_CACL2.about} pH (${WATER_LESS_CACL2.low} to ${WATER_LESS_CACL2.high}) below water by itself: a scale of its own.`}`
    if (n < LEAST_PAIRS) {
      return {
        method,
        pairs: n,
        offset: null,
        within: null,
        sentence: say`${counted(n, 'sample')} by ${said(method)} beside the probes; ${LEAST_PAIRS} tell the usual distance.${scale}`,
      }
    }
    const offset = -median(pairs.map(({ difference }) => difference))
    const within = Math.max(...pairs.map(({ difference }) => Math.abs(-difference - offset)))
    const odd =
      within > MOST_APART
        ? ` ${say`One lies ${fixed(within, 2)} from that: calibrate the probes and take a second sample before you act on it.`}`
        : ` ${say`They agree with that to within ${fixed(within, 2)}.`}`
    return {
      method,
      pairs: n,
      offset,
      within,
      sentence:
        offset < 0
          ? say`${n} samples by ${said(method)} lie ${fixed(Math.abs(offset), 2)} pH below the probes (their median).${odd}${scale}`
          : say`${n} samples by ${said(method)} lie ${fixed(Math.abs(offset), 2)} pH above the probes (their median).${odd}${scale}`,
    }
  }).toSorted((a, b) => b.pairs - a.pairs)
}
