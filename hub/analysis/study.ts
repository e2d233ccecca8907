import { amendmentOf } from '../agronomy/amendments.ts'
import type { Bed, PhBand } from '../model/bed.ts'
import { DAY } from '../model/clock.ts'
import type { JournalEntry } from '../model/journal.ts'
import { type BedDays, bedDays } from './aggregate/bed-days.ts'
import { type TakenJump, withoutJumps } from './aggregate/without-jumps.ts'
import { withoutCommonWobble } from './aggregate/without-common-wobble.ts'
import { type DoseAnswers, amendmentAnswers } from './amendment/amendment-answers.ts'
import type { Dose } from './amendment/dose-effect.ts'
import { type ControlChoice, controlFor } from './amendment/control-for.ts'
import { doseGroups } from './amendment/dose-groups.ts'
import type { Insufficient } from './assessment.ts'
import { type CalibrationJumps, calibrationJumps } from './drift/calibration-jumps.ts'
import { type ElectrodeDrift, electrodeDrift } from './drift/electrode-drift.ts'
import type { LevelBreak } from './drift/level-pieces.ts'
import { type LikeSeason, likeSeason } from './drift/like-season.ts'
import { type SampleOffset, sampleOffsets } from './drift/sample-offsets.ts'
import type { Sample } from './drift/sample-pairs.ts'
import { type SampleWitness, sampleWitness } from './drift/sample-witness.ts'
import { type SoilTrend, soilTrend } from './drift/soil-trend.ts'
import { type BandForecast, forecastBand } from './forecast/forecast-band.ts'
import { type TimeInBand, timeInBand } from './forecast/time-in-band.ts'
import type { WatchEvent } from './watch/event.ts'
import type { SpotDay } from '../model/spot-day.ts'
import { fixed } from '../words/figure.ts'
import { say } from '../words/say.ts'

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
  /** By what its own calibrations took away. */
  readonly jumps: CalibrationJumps | Insufficient
}

/** What the slow questions came to; gone through once a day. */
export interface Study {
  /** Epoch ms. */
  readonly at: number
  readonly days: BedDays
  readonly trend: SoilTrend | Insufficient
  /** The newest weeks against the same weeks a year ago: what can be said before a trend can. */
  readonly likeSeason: LikeSeason | Insufficient
  readonly electrodes: readonly ElectrodeStudy[]
  /** What samples by hand or from a laboratory say of the probes. */
  readonly samples: SampleWitness | Insufficient
  /** Usual distance of samples from the probes, by method. */
  readonly sampleOffsets: readonly SampleOffset[]
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

/** Day rows of one bed made ready, its own journal with it; `calibrations` per probe, epoch ms ascending. */
export function studiedBed(
  bed: Bed,
  days: readonly SpotDay[],
  journal: readonly JournalEntry[],
  calibrations?: ReadonlyMap<string, readonly number[]>,
): StudiedBed {
  return {
    bed,
    days: bedDays(days, calibrations),
    journal: journal.filter((e) => e.bedId === bed.id),
  }
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
  const breaks = levelBreaks(doses, facts.events)
  // A treatment is held against the level it met, not against one the soil had left by itself.
  const level = withoutJumps(
    days.bed,
    jumped(worked(doses), facts.events).map((e) => ({
      at: e.onset,
      until: e.onset + (e.form === 'step' ? STEP_MS : ON_ITS_WAY_MS),
      size: e.size,
      before: doses.find((dose) => dose.at > e.onset)?.at ?? Infinity,
    })),
  )
  const calibrations = Array.from(new Set(days.spots.map(({ probe }) => probe))).flatMap(
    (probe) => {
      const visits = facts.visits.get(probe) ?? []
      return visits.length === 0 ? [] : [visits]
    },
  )
  return {
    at,
    days,
    trend: soilTrend(calm.series, { breaks }),
    likeSeason: likeSeason(calm.series, breaks),
    electrodes: electrodesOf(days, facts.visits, at),
    samples: sampleWitness(days.bed, samplesOf(own, at), calibrations),
    sampleOffsets: sampleOffsets(days.bed, samplesOf(own, at)),
    wobble: { took: calm.took, beds: calm.from.map((i) => others[i]!.bed.name) },
    control,
    effects: amendmentAnswers(level.series, control?.series ?? null, doses, {
      at,
      controls: control?.status === 'ok' ? control.beds : [],
    }).map((dose) => withJumps(dose, level.taken)),
    band: facts.band,
    forecast: forecastBand(calm.series, facts.band, { at, breaks }),
    inBand:
      facts.band === null
        ? {
            status: 'insufficient',
            have: say`no band to hold the bed against`,
            need: say`a crop, or a band of your own`,
          }
        : timeInBand(days.bed, facts.band, facts.yearFrom, at),
  }
}

/** The bed's treatments up to `at`, by time. */
export function dosesOf({ journal }: StudiedBed, at: number): Dose[] {
  return journal
    .flatMap((e) =>
      e.kind === 'treatment' && e.at <= at
        ? { id: e.id, at: e.at, material: e.material ?? say`a treatment` }
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

/** A treatment that moves pH is held to be at work for so long where no publication says until when. */
const AT_WORK_MS = 180 * DAY
/** The watch follows a slow change for so long. */
const LONGEST_RAMP_MS = 30 * DAY
/** A step is there within hours; what comes over days is given so long. */
const STEP_MS = 2 * DAY
const ON_ITS_WAY_MS = 14 * DAY
/** Jumps nearer than this to each other are one. */
const ONE_JUMP_MS = 60 * DAY

/**
 * Where the level of a bed is known to have jumped: treatments that move pH, for as long as they are at work, and
 * sudden changes of the soil that stayed. What leaves pH alone, and what nobody can foretell (compost), is no break.
 */
function levelBreaks(doses: readonly Dose[], events: readonly WatchEvent[]): LevelBreak[] {
  const treated = worked(doses)
  const sudden = jumped(treated, events).map((e): LevelBreak =>
    e.form === 'ramp' ? { at: e.onset, until: e.onset + LONGEST_RAMP_MS } : { at: e.onset },
  )
  const breaks: LevelBreak[] = []
  for (const one of [...treated, ...sudden].toSorted((a, b) => a.at - b.at)) {
    const last = breaks.at(-1)
    if (one.until === undefined && last !== undefined && one.at - last.at < ONE_JUMP_MS) continue
    breaks.push(one)
  }
  return breaks
}

/** Treatments that move pH, for as long as they are at work. */
function worked(doses: readonly Dose[]): LevelBreak[] {
  return doseGroups(doses).flatMap(({ at, material }): LevelBreak[] => {
    const row = amendmentOf(material)
    if (row?.direction === 'none' || row?.direction === 'unclear') return []
    const peak = row?.peak ?? null
    const until = at + (peak === null ? AT_WORK_MS : peak.high * DAY)
    return [
      row === null ? { at, until } : { at, until, toward: row.direction === 'raises' ? 1 : -1 },
    ]
  })
}

/** Sudden changes of the soil that stayed and that no treatment at work explains. */
function jumped(
  treated: readonly LevelBreak[],
  events: readonly WatchEvent[],
): readonly WatchEvent[] {
  return events.filter(
    (e) =>
      (e.cause === 'soil' || e.cause === 'treatment') &&
      e.state !== 'recovered' &&
      !treated.some(({ at, until }) => e.onset >= at - DAY && e.onset < (until ?? at) + DAY),
  )
}

/** Says of each answer what was taken out of the days before the treatment. */
function withJumps(dose: DoseAnswers, taken: readonly TakenJump[]): DoseAnswers {
  const words = taken
    .filter(({ at }) => at < dose.at)
    .map(({ at, by }) =>
      by < 0
        ? say`The soil itself had fallen by ${fixed(Math.abs(by), 2)} pH ${Math.round((dose.at - at) / DAY)} days before; that is taken out.`
        : say`The soil itself had risen by ${fixed(Math.abs(by), 2)} pH ${Math.round((dose.at - at) / DAY)} days before; that is taken out.`,
    )
  return words.length === 0
    ? dose
    : {
        ...dose,
        answers: dose.answers.map((a) => ({ ...a, grounds: [...a.grounds, ...words] })),
      }
}

function electrodesOf(
  days: BedDays,
  visits: ReadonlyMap<string, readonly number[]>,
  at: number,
): ElectrodeStudy[] {
  return days.spots.flatMap(({ spotId, probe, series }) => {
    // Only probes that are still at work.
    if ((series.day.at(-1) ?? -Infinity) < at - 7 * DAY) return []
    const own = (visits.get(probe) ?? []).filter((v) => v <= at)
    const since = own.at(-1) ?? null
    const peers = days.spots.flatMap((peer) => (peer.spotId === spotId ? [] : peer.series))
    return {
      spotId,
      probe,
      since,
      drift: electrodeDrift(series, peers, (since ?? series.day[0] ?? at) + 2 * DAY),
      jumps: calibrationJumps(series, own),
    }
  })
}
