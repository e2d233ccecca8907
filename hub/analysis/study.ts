import type { Bed, PhBand } from '../model/bed.ts'
import { DAY } from '../model/clock.ts'
import type { JournalEntry } from '../model/journal.ts'
import { type BedDays, bedDays } from './aggregate/bed-days.ts'
import { withoutCommonWobble } from './aggregate/without-common-wobble.ts'
import { type DoseAnswers, amendmentAnswers } from './amendment/amendment-answers.ts'
import type { Dose } from './amendment/dose-effect.ts'
import { type ControlChoice, controlFor } from './amendment/control-for.ts'
import type { Insufficient } from './assessment.ts'
import { type ElectrodeDrift, electrodeDrift } from './drift/electrode-drift.ts'
import { type Sample, type SampleWitness, sampleWitness } from './drift/sample-witness.ts'
import { type SoilTrend, soilTrend } from './drift/soil-trend.ts'
import { type BandForecast, forecastBand } from './forecast/forecast-band.ts'
import { type TimeInBand, timeInBand } from './forecast/time-in-band.ts'
import type { WatchEvent } from './watch/event.ts'
import type { SpotDay } from '../model/spot-day.ts'

/** One bed as the slow questions need it. */
export interface StudiedBed {
  readonly bed: Bed
  readonly days: BedDays
  readonly journal: readonly JournalEntry[]
}

export interface ElectrodeStudy {
  readonly spotId: number
  readonly probe: string
  /** Newest calibration or service, epoch ms; null when none is known. */
  readonly since: number | null
  readonly drift: ElectrodeDrift | Insufficient
}

/** What the slow questions came to; gone through once a day. */
export interface Study {
  /** Epoch ms. */
  readonly at: number
  readonly days: BedDays
  readonly trend: SoilTrend | Insufficient
  readonly electrodes: readonly ElectrodeStudy[]
  /** What samples by hand or from a laboratory say of the probes. */
  readonly samples: SampleWitness | Insufficient
  /** Shared day-to-day wobble that was taken out before trend and outlook: share of the variance, and whose it is. */
  readonly wobble: { readonly took: number; readonly beds: readonly string[] }
  /** Untreated beds the treatments were held against; null without a treatment. */
  readonly control: ControlChoice | null
  readonly effects: readonly DoseAnswers[]
  /** The band it was held against. */
  readonly band: PhBand | null
  readonly forecast: BandForecast | Insufficient
  readonly inBand: TimeInBand | Insufficient
}

/** Day rows of one bed made ready, its own journal with it. */
export function studiedBed(
  bed: Bed,
  days: readonly SpotDay[],
  journal: readonly JournalEntry[],
): StudiedBed {
  return { bed, days: bedDays(days), journal: journal.filter((e) => e.bedId === bed.id) }
}

/**
 * The slow questions about one bed: where it drifts, whether its electrodes do, what each treatment did, what lies
 * ahead. Works on days, so that years cost milliseconds. Pure.
 *
 * @param others the garden's other beds: untreated ones tell what the season alone did
 * @param facts `events` of the bed's watch; `visits` per probe, epoch ms ascending; `yearFrom` start of the
 *   calendar year in the garden's zone, epoch ms
 */
export function study(
  own: StudiedBed,
  others: readonly StudiedBed[],
  facts: {
    readonly events: readonly WatchEvent[]
    readonly visits: ReadonlyMap<string, readonly number[]>
    readonly band: PhBand | null
    readonly yearFrom: number
  },
  at: number,
): Study {
  const { days } = own
  const calm = withoutCommonWobble(
    days.bed,
    others.map((other) => other.days.bed),
  )
  const doses = dosesOf(own, at)
  const first = doses[0]
  const control =
    first === undefined
      ? null
      : controlFor(
          days.bed,
          others.map((other) => ({
            bedId: other.bed.id,
            bed: other.bed.name,
            series: other.days.bed,
            doses: dosesOf(other, at),
          })),
          { doseAt: first.at, at },
        )
  const steps = [
    ...doses.map((dose) => dose.at),
    ...facts.events.flatMap((e) =>
      (e.cause === 'soil' || e.cause === 'treatment') && e.state !== 'recovered' ? e.onset : [],
    ),
  ].toSorted((a, b) => a - b)
  return {
    at,
    days,
    trend: soilTrend(calm.series, { steps: apart(steps) }),
    electrodes: electrodesOf(days, facts.visits, at),
    samples: sampleWitness(days.bed, samplesOf(own, at)),
    wobble: { took: calm.took, beds: calm.from.map((i) => others[i]!.bed.name) },
    control,
    effects: amendmentAnswers(days.bed, control?.series ?? null, doses, {
      at,
      controls: control?.status === 'ok' ? control.beds : [],
    }),
    band: facts.band,
    forecast: forecastBand(calm.series, facts.band, { at }),
    inBand:
      facts.band === null
        ? {
            status: 'insufficient',
            have: 'no band to hold the bed against',
            need: 'a crop, or a band of your own',
          }
        : timeInBand(days.bed, facts.band, facts.yearFrom, at),
  }
}

/** The bed's treatments up to `at`, by time. */
export function dosesOf({ journal }: StudiedBed, at: number): Dose[] {
  return journal
    .flatMap((e) =>
      e.kind === 'treatment' && e.at <= at
        ? { id: e.id, at: e.at, material: e.material ?? 'a treatment' }
        : [],
    )
    .toSorted((a, b) => a.at - b.at || a.id - b.id)
}

function samplesOf({ journal }: StudiedBed, at: number): Sample[] {
  return journal.flatMap((e) =>
    e.kind === 'sample' && e.at <= at && e.ph !== null && e.method !== null
      ? { at: e.at, ph: e.ph, method: e.method }
      : [],
  )
}

/** Steps nearer than two months to each other are one: each would take the other's weeks. */
function apart(steps: readonly number[]): number[] {
  const out: number[] = []
  for (const step of steps) if (step - (out.at(-1) ?? -Infinity) > 60 * DAY) out.push(step)
  return out
}

function electrodesOf(
  days: BedDays,
  visits: ReadonlyMap<string, readonly number[]>,
  at: number,
): ElectrodeStudy[] {
  return days.spots.flatMap(({ spotId, probe, series }) => {
    // Only probes that are still at work.
    if ((series.day.at(-1) ?? -Infinity) < at - 7 * DAY) return []
    const since = visits.get(probe)?.findLast((v) => v <= at) ?? null
    const peers = days.spots.flatMap((peer) => (peer.spotId === spotId ? [] : peer.series))
    return {
      spotId,
      probe,
      since,
      drift: electrodeDrift(series, peers, (since ?? series.day[0] ?? at) + 2 * DAY),
    }
  })
}
