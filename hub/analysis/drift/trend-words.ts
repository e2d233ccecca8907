import { DAY } from '../../model/clock.ts'
import type { Insufficient } from '../assessment.ts'
import { counted, listed } from '../format.ts'
import type { ElectrodeDrift } from './electrode-drift.ts'
import { uncalibratedIn } from './electrode-words.ts'
import type { LikeSeason } from './like-season.ts'
import type { SampleWitness } from './sample-witness.ts'
import type { SoilTrend } from './soil-trend.ts'
import { signed, trendVerdict } from './trend-verdict.ts'

/** Share of a trend that the electrodes may make up before it is told with a reservation. */
const RESERVATION = 0.5
const DAYS_A_YEAR = 365
/** What electrodes nobody calibrates may do by themselves, pH a year: 0.09 ± 0.12 in 30 days, all of a bed alike. */
const ELECTRODES_ALONE = { low: -0.4, high: 2.6 } as const
/** A trend that ended longer ago than this is told with its end. */
const PAST_MS = 60 * DAY

const MONTHS = [
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
] as const

/** A treatment that moves pH, within the record. */
export interface TrendTreatment {
  readonly at: number
  readonly material: string
  readonly direction: 'raises' | 'lowers'
}

/** What else bears witness. */
export interface TrendWitnesses {
  readonly at: number
  readonly electrodes: readonly {
    readonly since: number | null
    readonly drift: ElectrodeDrift | Insufficient
  }[]
  readonly samples: SampleWitness | Insufficient
  readonly wobble: { readonly took: number; readonly beds: readonly string[] }
  readonly likeSeason: LikeSeason | Insufficient
}

/** The trend in a sentence, and what it rests on. */
export function trendWords(
  trend: SoilTrend | Insufficient,
  treatments: readonly TrendTreatment[],
  witnesses: TrendWitnesses,
): { sentence: string; grounds: string[] } {
  if (trend.status === 'insufficient') return tooShort(trend, treatments, witnesses)
  const { perYear, low, high, verdict } = trend
  const rate = `${Math.abs(perYear).toFixed(2)} ± ${((high - low) / 2).toFixed(2)} pH a year`
  const grounds = trendGrounds(trend, treatments, witnesses)
  const until =
    witnesses.at - trend.to > PAST_MS
      ? `Until ${counted(Math.round((witnesses.at - trend.to) / (7 * DAY)), 'week')} ago`
      : null
  const apart = until === null ? 'Apart from the season' : `${until}, apart from the season,`
  if (trendVerdict(trend) === 'cannot tell') {
    return {
      sentence: `Whether the bed drifts cannot be told yet: anything between ${signed(low)} and ${signed(high)} pH a year fits what was measured. More months narrow it.`,
      grounds,
    }
  }
  if (verdict === 'steady') {
    const is = until === null ? 'is' : 'was'
    return {
      sentence: `${apart} the bed ${is} steady: ${low < 0 && high > 0 ? `between ${signed(low)} and ${signed(high)} pH a year` : `it moves by ${rate}, too slowly to matter`}.`,
      grounds,
    }
  }
  const goes = until === null ? [`rises`, `falls`] : [`rose`, `fell`]
  return {
    sentence: `${apart} the bed ${verdict === 'rising' ? goes[0] : goes[1]} by ${rate}.${reservation(trend, treatments, witnesses)}`,
    grounds,
  }
}

/** What may have made a trend besides the soil, and what to do next. */
function reservation(
  trend: SoilTrend,
  treatments: readonly TrendTreatment[],
  { electrodes, samples }: TrendWitnesses,
): string {
  const { perYear } = trend
  const same = (rate: number): boolean => Math.sign(rate) === Math.sign(perYear)
  const suspects =
    samples.status === 'ok' && samples.drifts
      ? same(samples.per30Days)
      : electrodes.some(
          ({ drift }) =>
            drift.status === 'ok' &&
            drift.drifts &&
            same(drift.per30Days) &&
            Math.abs(drift.per30Days) * 12 > RESERVATION * Math.abs(perYear),
        )
  if (suspects) {
    return ' Its electrodes drift the same way, so part of it may not be the soil: check them in two buffers.'
  }
  const cleared = samples.status === 'ok' && !samples.drifts
  const unchecked = uncalibratedIn(
    trend,
    electrodes.map(({ since }) => since),
  )
  if (unchecked && !cleared && perYear > ELECTRODES_ALONE.low && perYear < ELECTRODES_ALONE.high) {
    return ' No probe is known to have been calibrated in the later half of that time, and electrodes alone can do that: check them in two buffers before believing it.'
  }
  const own = treatments.filter(({ at }) => at < trend.to)
  const last = own.at(-1)
  if (last === undefined) return ' A laboratory sample once a year confirms it.'
  const along = (last.direction === 'raises') === perYear > 0
  return along
    ? ` Part of it may still be the work of ${last.material}.`
    : ` Part of it may be ${last.material} wearing off.`
}

function tooShort(
  trend: Insufficient,
  treatments: readonly TrendTreatment[],
  { likeSeason, at }: TrendWitnesses,
): { sentence: string; grounds: string[] } {
  const last = treatments.at(-1)
  const work =
    last === undefined
      ? ''
      : ` What it did after ${last.material} went on ${counted(Math.round((at - last.at) / DAY), 'day')} ago counts as the work of that, not as a drift.`
  const missing = `Whether the bed drifts cannot be told yet: ${trend.have}. Needed: ${trend.need}.${work}`
  if (likeSeason.status === 'insufficient') {
    return {
      sentence: missing,
      grounds: [`No like weeks a year ago either: ${likeSeason.have}.`],
    }
  }
  const { change, low, high, weeks } = likeSeason
  const sure = low > 0 || high < 0
  const so = sure
    ? `So far: in the same ${counted(weeks, 'week')} a year ago it read ${Math.abs(change).toFixed(2)} ± ${((high - low) / 2).toFixed(2)} pH ${change < 0 ? 'higher' : 'lower'} than now. One year may differ from the next, so that is no trend yet.`
    : `So far: against the same ${counted(weeks, 'week')} a year ago nothing sure has changed (${signed(low)} to ${signed(high)} pH).`
  return {
    sentence: `${missing} ${so}`,
    grounds: [`${counted(weeks, 'week')} that both years have; the season drops out.`],
  }
}

function trendGrounds(
  trend: SoilTrend,
  treatments: readonly TrendTreatment[],
  { samples, wobble }: TrendWitnesses,
): string[] {
  const month = MONTHS[Math.min(11, Math.floor(((trend.seasonHighestDay - 1) / DAYS_A_YEAR) * 12))]!
  const grounds = [
    `${counted(trend.weeks, 'week')} of readings; the season is taken out: over the year it swings by ${trend.seasonSwing.toFixed(2)} pH and is highest in ${month}.`,
    `Neighbouring weeks are alike (correlation ${trend.rho.toFixed(2)}); the interval allows for that.`,
  ]
  if (trend.steps > 0) {
    grounds.push(
      `${counted(trend.steps, 'jump')} of the level (treatments, sudden changes) ${trend.steps === 1 ? 'is' : 'are'} allowed for and not part of the trend.`,
    )
  }
  if (trend.leftOut > 0) {
    grounds.push(
      `${counted(trend.leftOut, 'week')} in which the level was being moved ${trend.leftOut === 1 ? 'is' : 'are'} left out.`,
    )
  }
  const { audit, perYear, verdict } = trend
  if (audit !== null) {
    const finds = audit.p < 0.05
    const agrees =
      finds === (verdict !== 'steady') &&
      (!finds || Math.sign(audit.perYear) === Math.sign(perYear))
    grounds.push(
      `Like months compared only (Seasonal Kendall): ${signed(audit.perYear)} pH a year, ${agrees ? 'which agrees' : 'which does not quite agree: take the trend with care'}.`,
    )
  }
  if (wobble.took > 0) {
    grounds.push(
      `${Math.round(100 * wobble.took)} % of the wobble from day to day is shared with ${listed(wobble.beds)} and was taken out before.`,
    )
  }
  grounds.push(...sampleGrounds(samples))
  const own = treatments.filter(({ at }) => at < trend.to)
  if (own.length > 0) {
    grounds.push(
      `${listed(Array.from(new Set(own.map(({ material }) => material))))} went on within that time and may work or wear off for longer than was left out.`,
    )
  }
  return grounds
}

/** What samples say of the probes. */
function sampleGrounds(samples: SampleWitness | Insufficient): string[] {
  if (samples.status === 'insufficient') {
    return [`Samples cannot bear witness yet: ${samples.have}; needed: ${samples.need}.`]
  }
  const { method, offset, others, per30Days, low, high } = samples
  const of = `${samples.samples} samples (${method})`
  const rate = `${signed(per30Days)} ± ${((high - low) / 2).toFixed(2)} pH in 30 days`
  const beside = (what: string, by: number): string =>
    `${Math.abs(by).toFixed(2)} ${by < 0 ? 'below' : 'above'} ${what}`
  return [
    samples.drifts
      ? `Against ${of} the probes together drift by ${rate}: that part is not the soil.`
      : `Against ${of} no drift that the probes share is seen (${rate}).`,
    `On average the bed reads ${listed([beside(method, offset), ...others.map((o) => beside(o.method, o.offset))])}; methods differ by habit and are never mixed.`,
  ]
}
