import { DAY, HOUR } from '../../model/clock.ts'
import { normalCdf } from '../stats/distributions.ts'
import { median } from '../stats/median.ts'
import type { Cause } from './event.ts'
import { treatmentFor } from './find-cause.ts'
import { KEPT_AFTER_MS, NO_EVIDENCE } from './keep-events.ts'
import { netChange } from './net-change.ts'
import {
  type KeptEvent,
  LEVEL_DAYS,
  type SpotState,
  type WatchContext,
  type WatchState,
  keyOf,
} from './watch-state.ts'

/** A slow change is worth a word from here, pH. */
const LEAST = 0.5
/** It must show on so many days in a row, and be beyond the limit with this probability. */
const DAYS_IN_A_ROW = 3
const SURE_ENOUGH = 0.7
/** Spots follow a slow change of the bed by at least this share. */
const MOVED_SHARE = 0.5
/** Scatter of a day's level; what electrodes drift apart in 30 days; how differently spots answer. */
const LEVEL_SD = 0.06
const DRIFT_SD_30_DAYS = 0.08
const ANSWER_SHARE = 0.12
/** A treatment goes on working for so long. */
const TREATED_MS = 120 * DAY
/** Water explains a slow fall when it came this shortly before. */
const WETTED_MS = 3 * DAY
const WATER_MOST = 1
/** A step may have begun this much before its sum left zero. */
const ONSET_UNSURE_MS = 3 * HOUR
/** What a step has already told. */
const TOLD_SHARE = 0.5

export function putLevel(spot: SpotState, day: number, level: number): void {
  const slot = Math.floor(day / DAY) % (LEVEL_DAYS + 1)
  spot.level[slot] = level
  spot.levelDay[slot] = day
}

/** Level of a day, or of the nearest day before it within three; NaN when there was none. */
function levelOn(spot: SpotState, day: number): number {
  for (let back = 0; back < 3; back++) {
    const of = day - back * DAY
    const slot = Math.floor(of / DAY) % (LEVEL_DAYS + 1)
    if (spot.levelDay[slot] === of && !Number.isNaN(spot.level[slot])) return spot.level[slot]!
  }
  return NaN
}

/**
 * Takes a step that is told or known (a visit showed that the electrode was off, a changed level became usual) out
 * of the levels before it, epoch ms: what is left is slow. The day of the step belongs to neither level.
 */
export function shiftLevels(spot: SpotState, at: number, shift: number): void {
  for (let slot = 0; slot < spot.level.length; slot++) {
    const day = spot.levelDay[slot]!
    if (day > at) continue
    if (day + DAY <= at - ONSET_UNSURE_MS) spot.level[slot] = spot.level[slot]! + shift
    else spot.level[slot] = NaN
  }
}

interface Slow {
  readonly key: string
  readonly change: number
  readonly se: number
  readonly onset: number
  readonly first: SpotState
  readonly moves: readonly { spot: SpotState; change: number; moved: boolean }[]
  readonly cause: Cause
}

/**
 * Changes over days, up to 30, that the hourly chart cannot see because what is usual follows them: once a day, from
 * the daily levels. First the bed as a whole, then each spot against the others.
 */
export function findRamps(
  state: WatchState,
  day: number,
  hour: number,
  context: WatchContext,
): void {
  const comparable = state.spots.filter((spot) => !Number.isNaN(levelOn(spot, day)))
  const found: Slow[] = []
  const bed = bedRamp(comparable, day)
  if (bed !== null) found.push(bed)
  else {
    for (const spot of comparable) {
      const slow = spotRamp(spot, comparable, day)
      if (slow !== null) found.push(slow)
    }
  }
  for (const slow of found) {
    if (isTold(state, slow, hour)) continue
    const known = state.ramps.find(({ key }) => key === slow.key)
    if (known === undefined) {
      state.ramps.push({ key: slow.key, days: 1, lastDay: day })
      continue
    }
    known.days = known.lastDay === day - DAY ? known.days + 1 : 1
    known.lastDay = day
    if (known.days >= DAYS_IN_A_ROW) state.events.push(eventOf(state, slow, hour, context))
  }
  const stale = state.ramps.findIndex(({ lastDay }) => lastDay < day - DAY)
  if (stale >= 0) state.ramps.splice(stale, 1)
}

/** The middle of the spots' own changes; a spot with several probes is one voice. Spots in order of their id. */
function middle(spots: readonly SpotState[], changeOf: (spot: SpotState) => number): number {
  const voices: number[] = []
  let n = 0
  for (let i = 0; i < spots.length; n++) {
    const { spotId } = spots[i]!
    let next = i + 1
    while (spots[next]?.spotId === spotId) next++
    const voice = next === i + 1 ? changeOf(spots[i]!) : median(spots.slice(i, next).map(changeOf))
    if (!Number.isNaN(voice)) voices.push(voice)
    i = next
  }
  return voices.length * 2 < n ? NaN : median(voices)
}

function bedRamp(spots: readonly SpotState[], day: number): Slow | null {
  if (spots.length === 0) return null
  const changeOf =
    (lag: number) =>
    (spot: SpotState): number =>
      levelOn(spot, day) - levelOn(spot, day - lag * DAY)
  const net = netChange((lag) => middle(spots, changeOf(lag)))
  if (net === null || net.returning || Math.abs(net.change) < LEAST) return null
  const moves = spots.map((spot) => {
    const change = median(net.lags.map((lag) => changeOf(lag)(spot)))
    return { spot, change, moved: change / net.change >= MOVED_SHARE }
  })
  const told = moves.filter(({ change }) => Number.isFinite(change))
  const spotsOf = (those: typeof moves): number =>
    new Set(those.map(({ spot }) => spot.spotId)).size
  const n = spotsOf(told)
  const moved = told.filter((move) => move.moved)
  if (n === 0 || (n > 1 && (spotsOf(moved) < 2 || spotsOf(moved) * 2 < n))) return null
  const lag = median(net.lags)
  const se = Math.sqrt(
    (2 * LEVEL_SD ** 2 + ((DRIFT_SD_30_DAYS * lag) / 30) ** 2 + (ANSWER_SHARE * net.change) ** 2) /
      n,
  )
  if (normalCdf((Math.abs(net.change) - LEAST) / se) < SURE_ENOUGH) return null
  return {
    key: `bed ${Math.sign(net.change)}`,
    change: net.change,
    se,
    onset: day - Math.min(...net.lags) * DAY,
    first: moved[0]!.spot,
    moves,
    cause: n === 1 ? 'unconfirmed' : 'soil',
  }
}

function spotRamp(own: SpotState, spots: readonly SpotState[], day: number): Slow | null {
  const others = spots.filter(({ spotId }) => spotId !== own.spotId)
  if (others.length === 0) return null
  const changeOf =
    (lag: number) =>
    (spot: SpotState): number =>
      levelOn(spot, day) - levelOn(spot, day - lag * DAY)
  const net = netChange((lag) => changeOf(lag)(own) - middle(others, changeOf(lag)))
  if (net === null || net.returning || Math.abs(net.change) < LEAST) return null
  const change = median(net.lags.map((lag) => changeOf(lag)(own)))
  const rest = middle(others, (spot) => median(net.lags.map((lag) => changeOf(lag)(spot))))
  if (!(Math.abs(rest) < MOVED_SHARE * Math.abs(change))) return null
  const lag = median(net.lags)
  const se = Math.sqrt(4 * LEVEL_SD ** 2 + 2 * ((DRIFT_SD_30_DAYS * lag) / 30) ** 2)
  if (normalCdf((Math.abs(net.change) - LEAST) / se) < SURE_ENOUGH) return null
  return {
    key: `${keyOf(own)} ${Math.sign(net.change)}`,
    change: net.change,
    se,
    onset: day - Math.min(...net.lags) * DAY,
    first: own,
    moves: spots.map((spot) => ({
      spot,
      change: median(net.lags.map((l) => changeOf(l)(spot))),
      moved: spot === own,
    })),
    cause: 'probe',
  }
}

/** An event that still stands and went the same way has told most of it. */
function isTold(state: WatchState, slow: Slow, hour: number): boolean {
  const sign = Math.sign(slow.change)
  const moved = new Set(slow.moves.flatMap((move) => (move.moved ? keyOf(move.spot) : [])))
  return state.events.some(
    (event) =>
      hour - event.onset <= KEPT_AFTER_MS + 5 * DAY &&
      (event.form === 'ramp' || event.cause !== 'dry contact') &&
      event.spots.some((move) => move.moved && moved.has(keyOf(move))) &&
      (event.form === 'ramp'
        ? Math.sign(event.size) === sign && event.endedAt === null
        : sign * (Number.isFinite(event.present) ? event.present : event.size) >=
          TOLD_SHARE * Math.abs(slow.change)),
  )
}

function eventOf(state: WatchState, slow: Slow, hour: number, context: WatchContext): KeptEvent {
  const { first, change, onset } = slow
  const inBed = slow.cause !== 'probe'
  const journalId = inBed ? treatmentFor(context, change, onset - TREATED_MS, hour, hour) : null
  const wetted = [...first.water.wettings, first.water.wetting].some(
    (wetting) =>
      wetting !== null && wetting.onset >= onset - WETTED_MS && wetting.onset <= onset + DAY,
  )
  let { cause } = slow
  if (inBed && journalId !== null && cause === 'soil') cause = 'treatment'
  else if (inBed && wetted && change < 0 && change > -WATER_MOST) cause = 'water'
  return {
    id: `ramp-${onset}-${first.spotId}-${first.probe}`,
    bedId: state.bedId,
    form: 'ramp',
    first: keyOf(first),
    onset,
    noticedAt: hour + HOUR,
    firstCause: cause,
    cause,
    decidedAt: hour + HOUR,
    size: change,
    sizeSe: slow.se,
    present: change,
    spots: slow.moves.map(({ spot, change: own, moved }) => ({
      spotId: spot.spotId,
      probe: spot.probe,
      before: levelOn(spot, Math.floor(hour / DAY) * DAY) - own,
      change: own,
      moved,
    })),
    evidence: {
      ...NO_EVIDENCE,
      journalId,
      withinPlan: journalId === null ? null : Math.abs(change) <= 1,
    },
    state: 'open',
    endedAt: null,
    backSince: null,
  }
}
