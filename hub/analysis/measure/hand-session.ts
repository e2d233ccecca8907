import { HAND_SPOTS } from '../../agronomy/hand-measuring.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import { fixed, counted } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** What values from several spots of one bed come to. */
export interface HandResult {
  readonly n: number
  /** Arithmetic mean of the pH values. */
  readonly mean: number
  /** Standard deviation among the spots and standard error of the mean, pH; NaN with fewer than two. */
  readonly sd: number
  readonly standardError: number
  /** Half-width of the 95 % interval of the mean, pH; NaN with fewer than two. */
  readonly halfWidth: number
  /** Spots for the wanted half-width, and how many are still missing. */
  readonly needed: number
  readonly more: number
  readonly sentence: string
}

/** No session asks for more than this. */
export const MOST_HAND_SPOTS = 60
/** A meter that shows tenths cannot prove spots more alike than this, pH; judgement. */
const LEAST_SD = 0.05

/**
 * Spots for a 95 % interval of the mean of plus or minus `wanted`: the smallest n with n >= (t s / E)^2, t with n - 1
 * degrees of freedom (US EPA, Preparation of soil sampling protocol, 1983; the formula is recalled). At least two.
 */
export function spotsFor(sd: number, wanted: number): number {
  let n = 2
  while (n < MOST_HAND_SPOTS && (tQuantile(0.975, n - 1) * sd) / Math.sqrt(n) > wanted) n++
  return n
}

/**
 * Mean of the values with its doubt. The arithmetic mean of pH, not that of the hydrogen ions: mixed samples of soil
 * match it (Conyers 2026). With fewer than three values the spots' usual spread stands in for their own.
 *
 * @param values pH, one a spot, at least one
 * @param usualSd standard deviation among spots before anything was measured, pH
 */
export function handResult(
  values: readonly number[],
  { wanted, usualSd }: { readonly wanted: number; readonly usualSd: number },
): HandResult {
  const n = values.length
  const mean = values.reduce((sum, value) => sum + value, 0) / n
  const square = values.reduce((sum, value) => sum + (value - mean) ** 2, 0)
  const sd = n < 2 ? NaN : Math.sqrt(square / (n - 1))
  const standardError = sd / Math.sqrt(n)
  const halfWidth = n < 2 ? NaN : tQuantile(0.975, n - 1) * standardError
  const judged = n < HAND_SPOTS.ownSpreadFrom ? usualSd : Math.max(LEAST_SD, sd)
  const needed = spotsFor(judged, wanted)
  const enough = n >= HAND_SPOTS.ownSpreadFrom && halfWidth <= wanted
  const more = enough ? 0 : Math.max(1, needed - n)
  const came =
    n < 2
      ? say`pH ${fixed(mean, 2)} from one spot; from one alone its doubt is not known.`
      : say`pH ${fixed(mean, 2)} from ${n} spots, standard error ${fixed(standardError, 2)}: the bed lies within ± ${fixed(halfWidth, 2)} of it (95 %).`
  const rest = enough
    ? say`That is as good as the ± ${wanted} you wanted.`
    : needed >= MOST_HAND_SPOTS && more + n >= MOST_HAND_SPOTS
      ? say`For ± ${wanted} even ${MOST_HAND_SPOTS} spots may be too few: the spots lie far apart.`
      : say`For ± ${wanted} measure about ${counted(more, 'more spot')}.`
  return { n, mean, sd, standardError, halfWidth, needed, more, sentence: `${came} ${rest}` }
}
