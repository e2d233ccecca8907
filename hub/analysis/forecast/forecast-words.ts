import type { Bed } from '../../model/bed.ts'
import { DAY } from '../../model/clock.ts'
import type { Insufficient } from '../assessment.ts'
import { counted } from '../format.ts'
import type { BandForecast } from './forecast-band.ts'
import type { TimeInBand } from './time-in-band.ts'

/** When the bed leaves its band, how sure, what next. */
export function forecastSentence(
  forecast: BandForecast | Insufficient,
  bed: Bed,
  at: number,
): string {
  if (forecast.status === 'insufficient') {
    return `What lies ahead cannot be told yet: ${forecast.have}. Needed: ${forecast.need}.`
  }
  const { leaves, chances } = forecast
  if (chances.length === 0) {
    return 'There is no band to leave: name a crop, or set a band of your own.'
  }
  const far = chances.at(-1)!
  const outside = `${percentOf(far.outside)} in ${far.days} days' time`
  if (forecast.now === 'below' || forecast.now === 'above') {
    const [soon] = chances
    return soon!.outside < 0.5
      ? `${bed.name} is ${forecast.now} its band, but most likely comes back into it: the chance to be outside is ${percentOf(soon!.outside)} in ${soon!.days} days' time, ${outside}.`
      : far.outside < 0.5
        ? `${bed.name} is ${forecast.now} its band and stays there for a month or more; the chance to be outside still is ${outside}.`
        : `${bed.name} is ${forecast.now} its band and most likely stays outside (chance ${outside}) unless something is done. Confirm with a soil test before doing anything.`
  }
  if (leaves === null) {
    return `${bed.name} most likely stays in its band; the chance to be outside is ${outside}.`
  }
  const days = (time: number): number => Math.max(1, Math.round((time - at) / DAY))
  const side = leaves.edge === 'low' ? 'below' : 'above'
  if (leaves.median === null) {
    return `${bed.name} may fall outside its band (${side} it) from about ${counted(days(leaves.earliest!), 'day')} on, but more likely stays in it: the chance is ${outside}.`
  }
  const latest =
    leaves.latest === null
      ? 'or not at all in that time'
      : `at the latest in ${days(leaves.latest)}`
  return `${bed.name} leaves its band, going ${side} it, in about ${counted(days(leaves.median), 'day')} (in ${days(leaves.earliest!)} at the earliest, ${latest}). Confirm with a soil test before doing anything.`
}

/** A chance in words that never claim certainty. */
function percentOf(share: number): string {
  const percent = Math.round(100 * share)
  return percent < 1 ? 'less than 1 %' : percent > 99 ? 'more than 99 %' : `${percent} %`
}

export function inBandSentence(inBand: TimeInBand | Insufficient): string {
  if (inBand.status === 'insufficient') {
    return `Days in the band cannot be counted: ${inBand.have}. Needed: ${inBand.need}.`
  }
  const percent = (share: number): number => Math.round(100 * share)
  const outside =
    inBand.below + inBand.above === 0
      ? ''
      : ` Below it on ${counted(inBand.below, 'day')}, above it on ${counted(inBand.above, 'day')}.`
  const unknown = inBand.unknown === 0 ? '' : ` ${counted(inBand.unknown, 'day')} not known.`
  return `In its band on ${percent(inBand.share)} % of the known days of this year${percent(inBand.low) === percent(inBand.high) ? '' : ` (${percent(inBand.low)} to ${percent(inBand.high)} %)`}.${outside}${unknown}`
}
