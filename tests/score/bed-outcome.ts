import type { Cause, CauseEvidence, WatchEvent } from '#hub/analysis/watch/event.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { type EventKind, SAMPLE_MS } from '#hub/simulator/bed-events.ts'
import type { RandomBed } from '#hub/simulator/random-bed.ts'
import type { SeenEvent } from './seen-events.ts'

/** What was told, with what is needed to see why. */
export interface Told {
  readonly firstCause: Cause
  readonly cause: Cause
  readonly lastCause: Cause
  readonly form: 'step' | 'ramp'
  /** Size when the cause was settled, pH. */
  readonly sizePh: number
  readonly seenAt: number
  readonly onset: number
  readonly evidence: CauseEvidence
  /** Index of the spots that moved. */
  readonly moved: readonly number[]
}

/** One thing that happened, and what the watch told of it. */
export interface Happened {
  readonly kind: EventKind
  readonly onset: number
  readonly sizePh: number
  readonly spot: number | null
  /** Null: missed. */
  readonly told: Told | null
  /** From the first sample that shows it until it was told, h. */
  readonly delayH: number
}

/** One bed, matched: everything the score counts. */
export interface BedOutcome {
  readonly seed: number
  readonly spots: number
  readonly startMs: number
  readonly years: number
  readonly happened: readonly Happened[]
  /** Events that nobody could be told of: they began in soil too cold to read. */
  readonly inCold: number
  /** Told within a dry spell of some spot. */
  readonly inDry: readonly Told[]
  /** A service told after a visit that did happen. */
  readonly afterVisit: number
  /** Slow changes told that no event is behind, and that the soil did make: the return after an event, a season. */
  readonly trueRamps: number
  /** Told with nothing behind it; `aftermath`: within nine days after a real event. */
  readonly unmatched: readonly (Told & { readonly aftermath: boolean })[]
}

const BEFORE_MS = 6 * HOUR
const AFTER_MS = 72 * HOUR
/** A slow event may be told while it is under way, and so long after it is complete. */
const SLOW_AFTER_MS = 10 * DAY
const AFTERMATH_MS = 9 * DAY
const VISIT_AFTER_MS = 96 * HOUR
/**
 * Below this a pH electrode is not believed, degrees Celsius (soil thermometer, trade judgement): what begins in
 * soil that is colder for most of the next day cannot be told, and is judged neither way.
 */
const COLD_C = 2
const COLD_MS = DAY
/** Nobody can be told of a change before the usual hours are known. */
const LEARNED_MS = 12 * DAY

const SLOW: ReadonlySet<EventKind> = new Set(['ramp', 'treatment', 'creeping death', 'battery sag'])

/**
 * Matches what was told with what happened. The first that is told from 6 h before to 72 h after an onset answers
 * it, others in that time belong to the same event. What is told from 72 h before the start of a dry spell until a
 * day after its end belongs to it. Each told event answers one thing only.
 */
export function bedOutcome(bed: RandomBed, seen: readonly SeenEvent[]): BedOutcome {
  const { startMs } = bed
  const order = seen.toSorted((a, b) => a.seenAt - b.seenAt)
  const used = new Set<SeenEvent>()
  const within = (from: number, to: number): SeenEvent[] =>
    order.filter((event) => !used.has(event) && event.seenAt >= from && event.seenAt <= to)
  const end = startMs + bed.days * DAY

  let inCold = 0
  const happened: Happened[] = []
  for (const { kind, onset, sizePh, spot, lastingMs } of bed.events) {
    if (onset <= startMs + LEARNED_MS) continue
    const after = SLOW.has(kind) ? lastingMs + SLOW_AFTER_MS : AFTER_MS
    const cold = !SLOW.has(kind) && coldMs(bed, onset, onset + COLD_MS) > COLD_MS / 2
    const last = cold ? thawed(bed, onset, after) : onset + after
    const told = within(onset - BEFORE_MS, Math.min(end, last))
    // In the months of a slow change other things happen: what goes the other way, or is a visit, is not about it.
    const answers = SLOW.has(kind)
      ? told.filter(
          ({ settled: { cause, size } }) => cause !== 'service' && size * sizePh * toward(kind) > 0,
        )
      : told
    for (const answer of answers) used.add(answer)
    if (cold) {
      inCold++
      continue
    }
    const [first] = answers
    happened.push({
      kind,
      onset,
      sizePh,
      spot,
      told: first === undefined ? null : toldOf(first),
      delayH: first === undefined ? NaN : Math.max(0, first.seenAt - onset) / HOUR,
    })
  }

  // A visit that did happen was told rightly, in dry soil too, where its new level shows late.
  let afterVisit = 0
  for (const event of order) {
    if (used.has(event) || event.settled.cause !== 'service') continue
    const { seenAt, settled } = event
    const named = settled.evidence.serviceAt ?? NaN
    const happenedSo = bed.visits.some(
      ({ at, spot }) =>
        (seenAt >= at - BEFORE_MS && seenAt <= at + VISIT_AFTER_MS) ||
        (Math.abs(named - at) <= BEFORE_MS && movedSpots(settled).includes(spot)),
    )
    if (happenedSo) {
      used.add(event)
      afterVisit++
    }
  }

  const inDry: Told[] = []
  for (const { drySpells } of bed.spots) {
    for (const { from, to } of drySpells) {
      for (const event of within(from - AFTER_MS, Math.max(from + AFTER_MS, to + DAY))) {
        used.add(event)
        inDry.push(toldOf(event))
      }
    }
  }

  // Contact that took less than makes a dry spell is rightly named when it was named so.
  for (const { poorSpells } of bed.spots) {
    for (const { from, to } of poorSpells) {
      for (const event of within(from, to + DAY)) {
        if (event.settled.cause !== 'dry contact') continue
        used.add(event)
        inDry.push(toldOf(event))
      }
    }
  }

  let trueRamps = 0
  const unmatched: (Told & { aftermath: boolean })[] = []
  for (const event of order) {
    if (used.has(event)) continue
    const told = toldOf(event)
    if (soilMoved(bed, told)) {
      trueRamps++
      continue
    }
    const aftermath = bed.events.some(
      ({ onset }) => event.seenAt >= onset && event.seenAt <= onset + AFTERMATH_MS,
    )
    unmatched.push({ ...told, aftermath })
  }
  return {
    seed: bed.seed,
    spots: bed.spots.length,
    startMs,
    years: bed.days / 365,
    happened,
    inCold,
    inDry,
    afterVisit,
    trueRamps,
    unmatched,
  }
}

/** Garbage of a failing supply lies below; what is slow goes where its size says. */
const toward = (kind: EventKind): 1 | -1 => (kind === 'battery sag' ? -1 : 1)

/** A slow change told of all spots is true when the soil made at least half of it between its onset and its notice. */
function soilMoved(bed: RandomBed, { form, cause, onset, seenAt, sizePh }: Told): boolean {
  if (form !== 'ramp' || cause === 'probe' || cause === 'service') return false
  const { ph } = bed.ground
  const level = (at: number): number => {
    const middle = Math.round((at - bed.startMs) / SAMPLE_MS)
    const day = ph.subarray(Math.max(0, middle - 48), middle + 48)
    return day.reduce((sum, value) => sum + value, 0) / day.length
  }
  return ((level(seenAt - DAY / 2) - level(onset)) * Math.sign(sizePh)) / Math.abs(sizePh) >= 0.5
}

/** How long the soil was too cold to read between two times, ms. */
function coldMs(bed: RandomBed, from: number, to: number): number {
  const { temperatureC } = bed.ground
  const first = Math.round((from - bed.startMs) / SAMPLE_MS)
  const last = Math.min(temperatureC.length, Math.round((to - bed.startMs) / SAMPLE_MS))
  let samples = 0
  for (let i = first; i < last; i++) if (temperatureC[i]! < COLD_C) samples++
  return samples * SAMPLE_MS
}

/** When the soil has been warm enough for so long since an onset, cold hours not counted. */
function thawed(bed: RandomBed, onset: number, ms: number): number {
  const { temperatureC } = bed.ground
  let warm = 0
  let i = Math.round((onset - bed.startMs) / SAMPLE_MS)
  for (; i < temperatureC.length && warm < ms; i++) {
    if (temperatureC[i]! >= COLD_C) warm += SAMPLE_MS
  }
  return bed.startMs + i * SAMPLE_MS
}

const movedSpots = ({ spots }: WatchEvent): number[] =>
  spots.flatMap(({ spotId, moved }) => (moved ? [spotId - 1] : []))

function toldOf({ seenAt, first, settled, last }: SeenEvent): Told {
  return {
    firstCause: first.cause,
    cause: settled.cause,
    lastCause: last.cause,
    form: settled.form,
    sizePh: settled.size,
    seenAt,
    onset: first.onset,
    evidence: settled.evidence,
    moved: movedSpots(settled),
  }
}
