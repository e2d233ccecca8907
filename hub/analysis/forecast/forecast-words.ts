import type { Bed } from '../../model/bed.ts'
import { DAY } from '../../model/clock.ts'
import type { Insufficient } from '../assessment.ts'
import type { BandForecast } from './forecast-band.ts'
import type { TimeInBand } from './time-in-band.ts'
import { counted } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** When the bed leaves its band, how sure, what next. */
export function forecastSentence(
  forecast: BandForecast | Insufficient,
  bed: Bed,
  at: number,
): string {
  if (forecast.status === 'insufficient') {
    return say`What lies ahead cannot be told yet: ${forecast.have}. Needed: ${forecast.need}.`
  }
  const { leaves, chances } = forecast
  if (chances.length === 0) {
    return say`There is no band to leave: name a crop, or set a band of your own.`
  }
  const far = chances.at(-1)!
  const outside = say`${percentOf(far.outside)} in ${far.days} days' time`
  if (forecast.now === 'below' || forecast.now === 'above') {
    const [soon] = chances
    const now =
      forecast.now === 'below'
        ? say`${bed.name} is below its band`
        : say`${bed.name} is above its band`
    return soon!.outside < 0.5
      ? say`${now}, but most likely comes back into it: the chance to be outside is ${percentOf(soon!.outside)} in ${soon!.days} days' time, ${outside}.`
      : far.outside < 0.5
        ? say`${now} and stays there for a month or more; the chance to be outside still is ${outside}.`
        : say`${now} and most likely stays outside (chance ${outside}) unless something is done. Confirm with a soil test before doing anything.`
  }
  if (leaves === null) {
    return say`${bed.name} most likely stays in its band; the chance to be outside is ${outside}.`
  }
  const days = (time: number): number => Math.max(1, Math.round((time - at) / DAY))
  const low = leaves.edge === 'low'
  if (leaves.median === null) {
    const from = counted(days(leaves.earliest!), 'day')
    return low
      ? say`${bed.name} may fall outside its band (below it) from about ${from} on, but more likely stays in it: the chance is ${outside}.`
      : say`${bed.name} may fall outside its band (above it) from about ${from} on, but more likely stays in it: the chance is ${outside}.`
  }
  const latest =
    leaves.latest === null
      ? say`or not at all in that time`
      : say`at the latest in ${days(leaves.latest)}`
  const about = counted(days(leaves.median), 'day')
  const earliest = days(leaves.earliest!)
  return low
    ? say`${bed.name} leaves its band, going below it, in about ${about} (in ${earliest} at the earliest, ${latest}). Confirm with a soil test before doing anything.`
    : say`${bed.name} leaves its band, going above it, in about ${about} (in ${earliest} at the earliest, ${latest}). Confirm with a soil test before doing anything.`
}

/** A chance in words that never claim certainty. */
function percentOf(share: number): string {
  const percent = Math.round(100 * share)
  return percent < 1 ? say`less than 1 %` : percent > 99 ? say`more than 99 %` : `${percent} %`
}

export function inBandSentence(inBand: TimeInBand | Insufficient): string {
  if (inBand.status === 'insufficient') {
    return say`Days in the band cannot be counted: ${inBand.have}. Needed: ${inBand.need}.`
  }
  const percent = (share: number): number => Math.round(100 * share)
  const outside =
    inBand.below + inBand.above === 0
      ? ''
      : ` ${say`Below it on ${counted(inBand.below, 'day')}, above it on ${counted(inBand.above, 'day')}.`}`
  const unknown =
    inBand.unknown === 0 ? '' : ` ${say`${counted(inBand.unknown, 'day')} not known.`}`
  return say`In its band on ${percent(inBand.share)} % of the known days of this year${percent(inBand.low) === percent(inBand.high) ? '' : ` ${say`(${percent(inBand.low)} to ${percent(inBand.high)} %)`}`}.${outside}${unknown}`
}
