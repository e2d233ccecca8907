import type { SampleMethod } from '../../model/journal.ts'
import { DAY } from '../../model/clock.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import type { Insufficient } from '../assessment.ts'
import { leastSquares } from '../stats/least-squares.ts'
import { median } from '../stats/median.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import { type Sample, samplePairs } from './sample-pairs.ts'
import { say } from '../../words/say.ts'

/** What samples of one method say of the probes. */
export interface SampleWitness {
  readonly status: 'ok'
  readonly method: SampleMethod
  readonly samples: number
  /** How far the bed value lies above the samples on average, pH: method and probe differ by habit, that is no fault. */
  readonly offset: number
  /** The same for each other method, as far as it was used. */
  readonly others: readonly { readonly method: SampleMethod; readonly offset: number }[]
  /**
   * Change of that distance since the probes were last calibrated, pH per 30 days, with the ends of its 95 %
   * interval: drift all probes have in common.
   */
  readonly per30Days: number
  readonly low: number
  readonly high: number
  /** The interval leaves zero out, and the drift is worth a word. */
  readonly drifts: boolean
}

const LEAST_SAMPLES = 3
/** Scatter of careful samples about the bed, pH: fewer than many samples cannot show less. */
const SAMPLE_SD = 0.12
/** Samples nearer together than this say nothing of a drift. */
const LEAST_SPAN_MS = 45 * DAY
/** Nor do samples that were all taken as long after a calibration. */
const LEAST_AGES_DAYS = 20
/** Drift inside this is nothing to speak of, pH per 30 days: a quarter of a pH over a year without calibration. */
const WORTH_A_WORD = 0.02

/**
 * Samples as a witness against the probes: what all electrodes of a bed do alike cannot be seen among them, but shows
 * as a distance to samples that grows. Methods are never mixed, each reads on its own scale; the one with most
 * samples speaks.
 *
 * @param calibrations of each probe of the bed, epoch ms ascending: what they take away begins anew
 */
export function sampleWitness(
  bed: DailySeries,
  samples: readonly Sample[],
  calibrations: readonly (readonly number[])[] = [],
): SampleWitness | Insufficient {
  const byMethod = samplePairs(bed, samples)
  const [speaks, ...rest] = Array.from(byMethod).toSorted((a, b) => b[1].length - a[1].length)
  const pairs = speaks?.[1] ?? []
  const n = pairs.length
  const times = pairs.map(({ at }) => at)
  const span = n === 0 ? 0 : Math.max(...times) - Math.min(...times)
  const begin = bed.day[0] ?? 0
  const age = Float64Array.from(times, (at) => meanAge(calibrations, at, begin) / (30 * DAY))
  const ages = n === 0 ? 0 : 30 * (Math.max(...age) - Math.min(...age))
  if (speaks === undefined || n < LEAST_SAMPLES || span < LEAST_SPAN_MS || ages < LEAST_AGES_DAYS) {
    return {
      status: 'insufficient',
      have:
        n === 0
          ? say`no sample beside a bed value`
          : n < LEAST_SAMPLES || span < LEAST_SPAN_MS
            ? n === 1
              ? say`${n} sample of one method over ${Math.round(span / DAY)} days`
              : say`${n} samples of one method over ${Math.round(span / DAY)} days`
            : say`${n} samples, all as long after a calibration`,
      need: say`${LEAST_SAMPLES} samples of one method, spread over ${LEAST_SPAN_MS / DAY} days, some soon and some long after a calibration`,
    }
  }
  const middle = age.reduce((sum, a) => sum + a, 0) / n
  const fit = leastSquares(
    [new Float64Array(n).fill(1), age.map((a) => a - middle)],
    Float64Array.from(pairs, ({ difference }) => difference),
  )
  // A few samples that happen to lie on a line are no proof: their scatter counts as four more with the usual one.
  const prior = 4
  const variance = (prior * SAMPLE_SD ** 2 + fit.sse) / (prior + fit.freedom)
  const reach = tQuantile(0.975, prior + fit.freedom) * Math.sqrt(variance * fit.inverse[3]!)
  const per30Days = fit.beta[1]!
  return {
    status: 'ok',
    method: speaks[0],
    samples: n,
    offset: fit.beta[0]!,
    others: rest.map(([method, own]) => ({
      method,
      offset: median(own.map(({ difference }) => difference)),
    })),
    per30Days,
    low: per30Days - reach,
    high: per30Days + reach,
    drifts: Math.abs(per30Days) > reach && Math.abs(per30Days) >= WORTH_A_WORD,
  }
}

/** Time since each probe was last calibrated, on average, ms; since the record began where that is not known. */
function meanAge(calibrations: readonly (readonly number[])[], at: number, begin: number): number {
  if (calibrations.length === 0) return at - begin
  const ages = calibrations.map((of) => at - (of.findLast((c) => c <= at) ?? begin))
  return ages.reduce((sum, own) => sum + own, 0) / ages.length
}
