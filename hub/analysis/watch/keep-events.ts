import { DAY, HOUR } from '../../model/clock.ts'
import { median } from '../stats/median.ts'
import { usualLevel } from './baseline.ts'
import type { Cause } from './event.ts'
import { type Verdict, findCause } from './find-cause.ts'
import { presentChange } from './present-change.ts'
import { recentCount } from './recent.ts'
import type { Signal, VisitStep } from './take-row.ts'
import {
  type KeptEvent,
  type SpotState,
  type WatchContext,
  type WatchState,
  keyOf,
} from './watch-state.ts'

/** Signals of a bed within this time are one event ... */
const ONE_EVENT_MS = 60 * HOUR
/** ... when the spot's own change is like the event's, to within this share of the larger, or this much, pH. */
const ALIKE = { share: 0.5, least: 0.5 } as const
/** Spots that answer to the same cause begin to within this time of each other. */
const SAME_ONSET_MS = DAY
/** The cause is settled a day after the first notice. */
export const DECIDED_AFTER_MS = DAY
/** A fall by water that has kept more than half of itself for so long is a change of the soil. */
const REVISED_AFTER_MS = 10 * DAY
const COME_BACK_SHARE = 0.5
/** Back for half a day within this much, pH: recovered. */
const RECOVERED = 0.25
const RECOVERED_MS = 12 * HOUR
/** A level that stood for 30 days is the normal one. */
export const KEPT_AFTER_MS = 30 * DAY
const REMEMBERED_MS = 400 * DAY
/** A step after a visit that is told, pH; smaller ones are the drift that the visit took away. */
const VISIT_STEP = 0.3
/** Spots answer to the same cause with changes that differ by about this share, and this much. */
const ANSWER_SHARE = 0.12
const LEAST_SE = 0.03
/** Noise of a spot before it is learned, pH. */
const USUAL_SD = 0.08

/** Opens an event with a signal, or lets it join one of the same kind that is young. */
export function noteSignal(
  state: WatchState,
  signal: Signal,
  hour: number,
  context: WatchContext,
): void {
  const { spot, onset } = signal
  const event: KeptEvent = {
    id: `step-${onset}-${spot.spotId}-${spot.probe}`,
    bedId: state.bedId,
    form: 'step',
    first: keyOf(spot),
    onset,
    noticedAt: hour + HOUR,
    firstCause: 'unconfirmed',
    cause: 'unconfirmed',
    decidedAt: null,
    size: 0,
    sizeSe: NaN,
    present: NaN,
    spots: state.spots
      .filter((own) => Number.isFinite(usualLevel(own)))
      .map((own) => ({
        spotId: own.spotId,
        probe: own.probe,
        before: usualLevel(own),
        change: NaN,
        moved: own === spot,
      })),
    evidence: NO_EVIDENCE,
    state: 'open',
    endedAt: null,
    backSince: null,
  }
  const verdict = findCause(event, state.spots, hour, context, false)
  const joined = state.events.findLast((young) => joins(signal, verdict, young, hour))
  spot.held = { since: hour, eventId: (joined ?? event).id }
  if (joined !== undefined) return
  judge(event, verdict, state.spots)
  event.firstCause = event.cause
  state.events.push(event)
}

/** Poor contact takes something else from every spot; all other events move their spots alike. */
function isAlike({ cause, size }: KeptEvent, change: number): boolean {
  if (cause === 'dry contact') return true
  const larger = Math.max(Math.abs(change), Math.abs(size))
  return Math.abs(change - size) <= Math.max(ALIKE.least, ALIKE.share * larger)
}

/** A spot that could not be read since an event of the whole bed shows it when it is heard again. */
function wasSilent(event: KeptEvent, spot: SpotState, onset: number, hour: number): boolean {
  return (
    event.cause !== 'probe' &&
    event.cause !== 'service' &&
    event.cause !== 'dry contact' &&
    hour + HOUR - event.noticedAt <= KEPT_AFTER_MS &&
    recentCount(spot.recent, 'ph', event.onset, onset - HOUR) === 0 &&
    event.spots.some((move) => keyOf(move) === keyOf(spot) && !move.moved)
  )
}

/**
 * Whether a signal belongs to an event that is told already. A probe that was just handled has its own reason to
 * move, whatever goes on in the bed; a dry spell is one event however often contact is lost; else it went the same
 * way at about the same time, or could not be heard until now.
 */
function joins(
  { spot, onset }: Signal,
  { cause, size }: Verdict,
  young: KeptEvent,
  hour: number,
): boolean {
  if (young.form !== 'step' || young.endedAt !== null) return false
  if ((cause === 'service') !== (young.cause === 'service')) return false
  if ((cause === 'dry contact') !== (young.cause === 'dry contact')) return false
  if (young.cause === 'dry contact') return true
  const isOf = young.spots.some((move) => move.moved && keyOf(move) === keyOf(spot))
  if (young.cause === 'service') return isOf && onset - young.onset <= ONE_EVENT_MS
  const isYoung =
    hour + HOUR - young.noticedAt <= ONE_EVENT_MS && (isOf || onset - young.onset <= SAME_ONSET_MS)
  return (isYoung || wasSilent(young, spot, onset, hour)) && isAlike(young, size)
}

export const NO_EVIDENCE = {
  leastAvailable: NaN,
  wetting: NaN,
  warming: NaN,
  serviceAt: null,
  serviceLogged: false,
  journalId: null,
  withinPlan: null,
  otherBeds: [],
} as const

function judge(event: KeptEvent, verdict: Verdict, spots: readonly SpotState[]): void {
  event.cause = verdict.cause
  event.evidence = verdict.evidence
  for (const move of event.spots) {
    const key = keyOf(move)
    move.change = verdict.changes.get(key) ?? NaN
    move.moved = verdict.moved.has(key)
  }
  sizeOf(event, verdict.size, spots)
}

/** Size of the event: of the first spot when it is about one probe, else the middle of the spots that moved. */
function sizeOf(event: KeptEvent, firstSize: number, spots: readonly SpotState[]): void {
  const moved = event.spots.filter((move) => move.moved && Number.isFinite(move.change))
  const alone = event.cause === 'probe' || event.cause === 'service' || moved.length <= 1
  const own = alone ? firstSize : median(moved.map((move) => move.change))
  if (Number.isFinite(own)) event.size = own
  const noises = spots.filter((spot) =>
    event.spots.some((m) => m.moved && keyOf(m) === keyOf(spot)),
  )
  const sd = median(noises.map((spot) => (Number.isFinite(spot.sd) ? spot.sd : USUAL_SD)))
  const n = alone ? 1 : Math.max(1, moved.length)
  const answer = alone ? 0 : ANSWER_SHARE * Math.abs(event.size)
  event.sizeSe = Math.max(LEAST_SE, Math.sqrt((sd * sd + answer * answer) / n))
}

/** A visit left a step that did not cross the limit of the chart. */
export function noteVisitStep(
  state: WatchState,
  { spot, visit }: VisitStep,
  size: number,
  hour: number,
): void {
  if (Math.abs(size) < VISIT_STEP) return
  const before = usualLevel(spot) - size
  state.events.push({
    id: `step-${visit}-${spot.spotId}-${spot.probe}`,
    bedId: state.bedId,
    form: 'step',
    first: keyOf(spot),
    onset: visit,
    noticedAt: hour + HOUR,
    firstCause: 'service',
    cause: 'service',
    decidedAt: hour + HOUR,
    size,
    sizeSe: Math.max(LEAST_SE, Number.isFinite(spot.sd) ? spot.sd : USUAL_SD),
    present: size,
    spots: [{ spotId: spot.spotId, probe: spot.probe, before, change: size, moved: true }],
    evidence: { ...NO_EVIDENCE, serviceAt: visit, serviceLogged: !spot.seenVisits.includes(visit) },
    state: 'kept',
    endedAt: hour + HOUR,
    backSince: null,
  })
}

/** The step of a visit that the chart has told already is now known as well as it will be. */
export function settleVisitEvent(
  state: WatchState,
  eventId: string,
  spot: SpotState,
  size: number,
  hour: number,
): void {
  const event = state.events.findLast(({ id }) => id === eventId)
  if (event === undefined || event.endedAt !== null) return
  for (const move of event.spots) if (keyOf(move) === keyOf(spot)) move.change = size
  event.size = size
  event.present = size
  event.decidedAt ??= hour + HOUR
  event.state = 'kept'
  event.endedAt = hour + HOUR
}

/** Once an hour: causes are settled, revised, and events end. */
export function reviewEvents(state: WatchState, hour: number, context: WatchContext): void {
  const end = hour + HOUR
  const dropped = state.events[0]
  if (dropped !== undefined && dropped.noticedAt < end - REMEMBERED_MS) {
    state.events = state.events.filter((event) => event.noticedAt >= end - REMEMBERED_MS)
  }
  for (const event of state.events) {
    if (event.endedAt !== null) continue
    if (event.decidedAt === null && end >= event.noticedAt + DECIDED_AFTER_MS) {
      if (event.form === 'step') {
        // By what was known then, should nothing have been heard in the meantime.
        const then = Math.min(hour, event.noticedAt + DECIDED_AFTER_MS - HOUR)
        const verdict = findCause(event, state.spots, then, context, true)
        if (Number.isFinite(verdict.size)) judge(event, verdict, state.spots)
      }
      event.decidedAt = end
    }
    const now = presentChange(event, state.spots, hour)
    if (Number.isFinite(now)) event.present = now
    if (
      event.cause === 'water' &&
      event.decidedAt !== null &&
      event.form === 'step' &&
      end >= event.noticedAt + REVISED_AFTER_MS &&
      event.present / event.size > COME_BACK_SHARE
    ) {
      event.cause = revised(event)
      event.decidedAt = end
    }
    endWhenOver(event, now, end)
  }
}

function revised(event: KeptEvent): Cause {
  const spots = new Set(event.spots.map(({ spotId }) => spotId)).size
  if (spots < 2) return 'unconfirmed'
  return event.evidence.journalId === null ? 'soil' : 'treatment'
}

/** @param now what is left of it by readings of the last day; NaN = nobody can tell */
function endWhenOver(event: KeptEvent, now: number, end: number): void {
  if (event.cause === 'service' && event.decidedAt !== null) {
    event.state = 'kept'
    event.endedAt = end
    return
  }
  if (Math.abs(now) < RECOVERED) {
    event.backSince ??= end
    if (event.decidedAt !== null && end - event.backSince >= RECOVERED_MS) {
      event.state = 'recovered'
      event.endedAt = end
      return
    }
  } else if (Number.isFinite(now)) event.backSince = null
  if (end >= event.noticedAt + KEPT_AFTER_MS) {
    event.state = 'kept'
    event.endedAt = end
  }
}
