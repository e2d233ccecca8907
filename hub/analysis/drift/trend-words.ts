import { DAY } from '../../model/clock.ts'
import type { Insufficient } from '../assessment.ts'
import type { ElectrodeDrift } from './electrode-drift.ts'
import { uncalibratedIn } from './electrode-words.ts'
import type { LikeSeason } from './like-season.ts'
import type { SampleWitness } from './sample-witness.ts'
import type { SoilTrend } from './soil-trend.ts'
import { signed, trendVerdict } from './trend-verdict.ts'
import { fixed, counted, listed, monthName } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

/** Share of a trend that the electrodes may make up before it is told with a reservation. */
const RESERVATION = 0.5
const DAYS_A_YEAR = 365
/** What electrodes nobody calibrates may do by themselves, pH a year: 0.09 ± 0.12 in 30 days, all of a bed alike. */
const ELECTRODES_ALONE = { low: -0.4, high: 2.6 } as const
/** A trend that ended longer ago than this is told with its end. */
const PAST_MS = 60 * DAY

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
  const rate = say`${fixed(Math.abs(perYear), 2)} ± ${fixed((high - low) / 2, 2)} pH a year`
  const grounds = trendGrounds(trend, treatments, witnesses)
  const until =
    witnesses.at - trend.to > PAST_MS
      ? counted(Math.round((witnesses.at - trend.to) / (7 * DAY)), 'week')
      : null
  if (trendVerdict(trend) === 'cannot tell') {
    return {
      sentence: say`Whether the bed drifts cannot be told yet: anything between ${signed(low)} and ${signed(high)} pH a year fits what was measured. More months narrow it.`,
      grounds,
    }
  }
  if (verdict === 'steady') {
    const steady =
      low < 0 && high > 0
        ? say`between ${signed(low)} and ${signed(high)} pH a year`
        : say`it moves by ${rate}, too slowly to matter`
    return {
      sentence:
        until === null
          ? say`Apart from the season the bed is steady: ${steady}.`
          : say`Until ${until} ago, apart from the season, the bed was steady: ${steady}.`,
      grounds,
    }
  }
  const goes =
    verdict === 'rising'
      ? until === null
        ? say`Apart from the season the bed rises by ${rate}.`
        : say`Until ${until} ago, apart from the season, the bed rose by ${rate}.`
      : until === null
        ? say`Apart from the season the bed falls by ${rate}.`
        : say`Until ${until} ago, apart from the season, the bed fell by ${rate}.`
  return { sentence: `${goes}${reservation(trend, treatments, witnesses)}`, grounds }
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
    return ` ${say`Its electrodes drift the same way, so part of it may not be the soil: check them in two buffers.`}`
  }
  const cleared = samples.status === 'ok' && !samples.drifts
  const unchecked = uncalibratedIn(
    trend,
    electrodes.map(({ since }) => since),
  )
  if (unchecked && !cleared && perYear > ELECTRODES_ALONE.low && perYear < ELECTRODES_ALONE.high) {
    return ` ${say`No probe is known to have been calibrated in the later half of that time, and electrodes alone can do that: check them in two buffers before believing it.`}`
  }
  const own = treatments.filter(({ at }) => at < trend.to)
  const last = own.at(-1)
  if (last === undefined) return ` ${say`A laboratory sample once a year confirms it.`}`
  const along = (last.direction === 'raises') === perYear > 0
  return along
    ? ` ${say`Part of it may still be the work of ${said(last.material)}.`}`
    : ` ${say`Part of it may be ${said(last.material)} wearing off.`}`
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
      : ` ${say`What it did after ${said(last.material)} went on ${counted(Math.round((at - last.at) / DAY), 'day')} ago counts as the work of that, not as a drift.`}`
  const missing = say`Whether the bed drifts cannot be told yet: ${trend.have}. Needed: ${trend.need}.${work}`
  if (likeSeason.status === 'insufficient') {
    return {
      sentence: missing,
      grounds: [say`No like weeks a year ago either: ${likeSeason.have}.`],
    }
  }
  const { change, low, high, weeks } = likeSeason
  const sure = low > 0 || high < 0
  const so = sure
    ? change < 0
      ? say`So far: in the same ${counted(weeks, 'week')} a year ago it read ${fixed(Math.abs(change), 2)} ± ${fixed((high - low) / 2, 2)} pH higher than now. One year may differ from the next, so that is no trend yet.`
      : say`So far: in the same ${counted(weeks, 'week')} a year ago it read ${fixed(Math.abs(change), 2)} ± ${fixed((high - low) / 2, 2)} pH lower than now. One year may differ from the next, so that is no trend yet.`
    : say`So far: against the same ${counted(weeks, 'week')} a year ago nothing sure has changed (${signed(low)} to ${signed(high)} pH).`
  return {
    sentence: `${missing} ${so}`,
    grounds: [say`${counted(weeks, 'week')} that both years have; the season drops out.`],
  }
}

function trendGrounds(
  trend: SoilTrend,
  treatments: readonly TrendTreatment[],
  { samples, wobble }: TrendWitnesses,
): string[] {
  const month = monthName(
    1 + Math.min(11, Math.floor(((trend.seasonHighestDay - 1) / DAYS_A_YEAR) * 12)),
  )
  const grounds = [
    say`${counted(trend.weeks, 'week')} of readings; the season is taken out: over the year it swings by ${fixed(trend.seasonSwing, 2)} pH and is highest in ${month}.`,
    say`Neighbouring weeks are alike (correlation ${fixed(trend.rho, 2)}); the interval allows for that.`,
  ]
  if (trend.steps > 0) {
    grounds.push(
      trend.steps === 1
        ? say`${counted(trend.steps, 'jump')} of the level (treatments, sudden changes) is allowed for and not part of the trend.`
        : say`${counted(trend.steps, 'jump')} of the level (treatments, sudden changes) are allowed for and not part of the trend.`,
    )
  }
  if (trend.leftOut > 0) {
    grounds.push(
      trend.leftOut === 1
        ? say`${counted(trend.leftOut, 'week')} in which the level was being moved is left out.`
        : say`${counted(trend.leftOut, 'week')} in which the level was being moved are left out.`,
    )
  }
  const { audit, perYear, verdict } = trend
  if (audit !== null) {
    const finds = audit.p < 0.05
    const agrees =
      finds === (verdict !== 'steady') &&
      (!finds || Math.sign(audit.perYear) === Math.sign(perYear))
    grounds.push(
      agrees
        ? say`Like months compared only (Seasonal Kendall): ${signed(audit.perYear)} pH a year, which agrees.`
        : say`Like months compared only (Seasonal Kendall): ${signed(audit.perYear)} pH a year, which does not quite agree: take the trend with care.`,
    )
  }
  if (wobble.took > 0) {
    grounds.push(
      say`${Math.round(100 * wobble.took)} % of the wobble from day to day is shared with ${listed(wobble.beds)} and was taken out before.`,
    )
  }
  grounds.push(...sampleGrounds(samples))
  const own = treatments.filter(({ at }) => at < trend.to)
  if (own.length > 0) {
    grounds.push(
      say`${listed(Array.from(new Set(own.map(({ material }) => said(material)))))} went on within that time and may work or wear off for longer than was left out.`,
    )
  }
  return grounds
}

/** What samples say of the probes. */
function sampleGrounds(samples: SampleWitness | Insufficient): string[] {
  if (samples.status === 'insufficient') {
    return [say`Samples cannot bear witness yet: ${samples.have}; needed: ${samples.need}.`]
  }
  const { method, offset, others, per30Days, low, high } = samples
  const of = say`${samples.samples} samples (${said(method)})`
  const rate = say`${signed(per30Days)} ± ${fixed((high - low) / 2, 2)} pH in 30 days`
  const beside = (what: string, by: number): string =>
    by < 0
      ? say`${fixed(Math.abs(by), 2)} below ${said(what)}`
      : say`${fixed(Math.abs(by), 2)} above ${said(what)}`
  return [
    samples.drifts
      ? say`Against ${of} the probes together drift by ${rate}: that part is not the soil.`
      : say`Against ${of} no drift that the probes share is seen (${rate}).`,
    say`On average the bed reads ${listed([beside(method, offset), ...others.map((o) => beside(o.method, o.offset))])}; methods differ by habit and are never mixed.`,
  ]
}
