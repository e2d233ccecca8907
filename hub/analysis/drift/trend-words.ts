import type { Insufficient } from '../assessment.ts'
import { counted, listed } from '../format.ts'
import type { ElectrodeDrift } from './electrode-drift.ts'
import type { SampleWitness } from './sample-witness.ts'
import type { SoilTrend } from './soil-trend.ts'

/** Share of a trend that the electrodes may make up before it is told with a reservation. */
const RESERVATION = 0.5
/** An interval wider than this either way is no answer, pH a year. */
const TOO_WIDE = 0.25
const DAYS_A_YEAR = 365

/** A day of the year as a part of it. */
function partOfYear(day: number): string {
  const month = [
    'January',
    'February',
    'March',
    'April',
    'May',
    'June',
    'July',
    'August',
    'September',
    'October',
    'November',
    'December',
  ][Math.min(11, Math.floor(((day - 1) / DAYS_A_YEAR) * 12))]!
  return month
}

/** What is said of a trend: an interval too wide for an answer is none. */
export function trendVerdict({
  verdict,
  low,
  high,
}: SoilTrend): SoilTrend['verdict'] | 'cannot tell' {
  return verdict === 'steady' && (high - low) / 2 > TOO_WIDE ? 'cannot tell' : verdict
}

/** The trend in a sentence, and what it rests on. */
export function trendWords(
  trend: SoilTrend | Insufficient,
  electrodes: readonly { readonly drift: ElectrodeDrift | Insufficient }[],
  /** Treatments within the record that move pH. */
  treatments: number,
  witnesses: {
    readonly samples: SampleWitness | Insufficient
    readonly wobble: { readonly took: number; readonly beds: readonly string[] }
  },
): { sentence: string; grounds: string[] } {
  if (trend.status === 'insufficient') {
    return {
      sentence: `Whether the bed drifts cannot be told yet: ${trend.have}. Needed: ${trend.need}.`,
      grounds: [],
    }
  }
  const { perYear, low, high, verdict } = trend
  const reach = (high - low) / 2
  const rate = `${Math.abs(perYear).toFixed(2)} ± ${reach.toFixed(2)} pH a year`
  const swing = `over the year it swings by ${trend.seasonSwing.toFixed(2)} pH and is highest in ${partOfYear(trend.seasonHighestDay)}`
  const grounds = [
    `${counted(trend.weeks, 'week')} of readings; the season is taken out: ${swing}.`,
    `Neighbouring weeks are alike (correlation ${trend.rho.toFixed(2)}); the interval allows for that.`,
  ]
  if (trend.steps > 0) {
    grounds.push(
      `${counted(trend.steps, 'jump')} of the level (treatments, sudden changes) ${trend.steps === 1 ? 'is' : 'are'} allowed for and not part of the trend.`,
    )
  }
  const { audit } = trend
  if (audit !== null) {
    const agrees = audit.p < 0.05 === (verdict !== 'steady')
    grounds.push(
      `Like months compared only (Seasonal Kendall): ${signed(audit.perYear)} pH a year, ${agrees ? 'which agrees' : 'which does not quite agree: take the trend with care'}.`,
    )
  }
  const { samples, wobble } = witnesses
  if (wobble.took > 0) {
    grounds.push(
      `${Math.round(100 * wobble.took)} % of the wobble from day to day is shared with ${listed(wobble.beds)} and was taken out before.`,
    )
  }
  grounds.push(sampleGround(samples))
  if (treatments > 0) {
    grounds.push(
      `${counted(treatments, 'treatment')} within that time ${treatments === 1 ? 'works' : 'work'} for months: part of the trend may be ${treatments === 1 ? 'its' : 'their'} doing.`,
    )
  }
  const together =
    samples.status === 'ok' && samples.drifts && Math.sign(samples.per30Days) === Math.sign(perYear)
  const suspects = together
    ? 1
    : electrodes.filter(
        ({ drift }) =>
          drift.status === 'ok' &&
          drift.drifts &&
          Math.sign(drift.per30Days) === Math.sign(perYear) &&
          Math.abs(drift.per30Days) * 12 > RESERVATION * Math.abs(perYear),
      ).length
  if (trendVerdict(trend) === 'cannot tell') {
    return {
      sentence: `Whether the bed drifts cannot be told yet: anything between ${signed(low)} and ${signed(high)} pH a year fits what was measured. More months narrow it.`,
      grounds,
    }
  }
  if (verdict === 'steady') {
    return {
      sentence: `Apart from the season the bed is steady: ${low < 0 && high > 0 ? `between ${signed(low)} and ${signed(high)} pH a year` : `no more than ${rate}`}.`,
      grounds,
    }
  }
  const reservation =
    suspects === 0
      ? treatments > 0
        ? ' Part of it may be the work of what was put on.'
        : ''
      : ' Its electrodes drift the same way, so part of it may not be the soil: check them in two buffers.'
  return {
    sentence: `Apart from the season the bed ${verdict === 'rising' ? 'rises' : 'falls'} by ${rate}.${reservation} A laboratory sample once a year confirms it.`,
    grounds,
  }
}

/** What samples say of the probes, in a sentence. */
function sampleGround(samples: SampleWitness | Insufficient): string {
  if (samples.status === 'insufficient') {
    return `Samples cannot bear witness yet: ${samples.have}; needed: ${samples.need}.`
  }
  const reach = (samples.high - samples.low) / 2
  const rate = `${signed(samples.per30Days)} ± ${reach.toFixed(2)} pH in 30 days`
  return samples.drifts
    ? `Against ${samples.samples} samples (${samples.method}) the probes together drift by ${rate}: that part is not the soil.`
    : `Against ${samples.samples} samples (${samples.method}) the probes keep their distance (${rate}): no sign of a drift they share.`
}

function signed(value: number): string {
  return `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(2)}`
}
