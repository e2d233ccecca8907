import { DAY, HOUR } from '../../model/clock.ts'
import type { SpotDay } from '../../model/spot-day.ts'
import { stepWaterStanding } from '../moisture/step-water-standing.ts'
import { median } from '../stats/median.ts'
import { rebase } from './baseline.ts'
import { findRamps, putLevel, shiftLevels } from './find-ramps.ts'
import type { WatchHour } from './hour-row.ts'
import { noteSignal, noteVisitStep, reviewEvents, settleVisitEvent } from './keep-events.ts'
import { quickSignals } from './quick-signals.ts'
import { causeOf, releaseHeld } from './release.ts'
import { gatherDay, startSpot } from './start-watch.ts'
import { type VisitStep, takeRow } from './take-row.ts'
import { type SpotState, type WatchContext, type WatchState, keyOf } from './watch-state.ts'
import { waterNow } from './water-now.ts'

/** Hours a day's level needs. */
const LEVEL_HOURS = 6
/** A spot silent for this long is forgotten: a probe that comes back then is learned anew. */
const FORGOTTEN_MS = 120 * DAY

/**
 * Takes one closed UTC hour of a bed into its watch, in place, and answers the day rows that became complete. Hours
 * ascend; one before the cursor is passed over.
 */
export function stepWatch(
  state: WatchState,
  { hour, rows }: WatchHour,
  context: WatchContext,
): readonly SpotDay[] {
  if (hour < state.cursor) return []
  const days = endDays(state, hour, context)
  state.cursor = hour + HOUR
  // An hour in which nothing was heard changes nothing: it may be stepped or passed over.
  if (rows.length === 0) return days
  for (const row of rows) {
    let spot = state.spots.find((own) => own.spotId === row.spotId && own.probe === row.probe)
    if (spot === undefined) {
      spot = startSpot(row.spotId, row.probe)
      state.spots.push(spot)
      // One order, whatever row came first.
      state.spots.sort((a, b) => a.spotId - b.spotId || (a.probe < b.probe ? -1 : 1))
    }
    if (Number.isNaN(spot.gathered.day)) spot.gathered.day = Math.floor(hour / DAY) * DAY
  }
  const signals = []
  for (const spot of state.spots) {
    const row = rows.find((r) => r.spotId === spot.spotId && r.probe === spot.probe)
    if (row === undefined) continue
    const { signal, visitStep } = takeRow(spot, row, hour, context.bed.texture, context)
    if (signal !== null) signals.push(signal)
    if (visitStep !== null) takeVisitStep(state, visitStep, hour)
  }
  signals.push(...quickSignals(state, hour, signals))
  for (const signal of signals) noteSignal(state, signal, hour, context)
  for (const spot of state.spots) if (spot.lastRow === hour) releaseHeld(state, spot, hour)
  reviewEvents(state, hour, context)
  state.water = stepWaterStanding(state.water, waterNow(state, context.bed, hour + HOUR))
  return days
}

/** The level that a visit left is the usual one from now on; what else is going on with the spot goes on. */
function takeVisitStep(state: WatchState, step: VisitStep, hour: number): void {
  const { spot, visit, before, after } = step
  const { held } = spot
  const cause = held === null ? null : causeOf(state, held.eventId)
  // A spot that stands aside for a change of its own had left the usual level before.
  const isApart = cause !== null && cause !== 'service' && cause !== 'dry contact'
  const size = isApart ? after - before : after
  if (!Number.isFinite(size)) return
  rebase(spot, size)
  shiftLevels(spot, visit, size)
  for (const event of state.events) {
    if (event.endedAt !== null || event.onset >= visit) continue
    // A visit that mends a probe's fault ends it: the level before the fault stays what it was.
    if (event.cause === 'service' || event.cause === 'probe') continue
    for (const move of event.spots) if (keyOf(move) === keyOf(spot)) move.before += size
  }
  if (cause === 'service') settleVisitEvent(state, held!.eventId, spot, size, hour)
  else noteVisitStep(state, step, size, hour)
  if (!isApart) spot.held = null
}

/** Closes the days that lie before the one of `hour`. */
function endDays(state: WatchState, hour: number, context: WatchContext): SpotDay[] {
  const today = Math.floor(hour / DAY) * DAY
  const out: SpotDay[] = []
  let ended = -Infinity
  for (const spot of state.spots) {
    const { gathered } = spot
    if (!(gathered.day < today)) continue
    const level = median(gathered.ph)
    out.push({
      bedId: state.bedId,
      spotId: spot.spotId,
      probe: spot.probe,
      day: gathered.day,
      ph: level,
      hours: gathered.ph.length,
      moisture: gathered.moisture / gathered.moistureHours,
      available: gathered.available / gathered.availableHours,
      temperatureC: gathered.celsius / gathered.celsiusHours,
      apart: isApart(state, spot),
    })
    // While a spot is set aside its level is the event's, no level to compare a slow change with.
    const isLevel = gathered.ph.length >= LEVEL_HOURS && spot.held === null
    putLevel(spot, gathered.day, isLevel ? level : NaN)
    ended = Math.max(ended, gathered.day)
    spot.gathered = gatherDay(NaN)
  }
  // As of the end of that day, whenever the next hour comes.
  if (Number.isFinite(ended)) findRamps(state, ended, ended + DAY - HOUR, context)
  forget(state, hour)
  return out
}

function isApart(state: WatchState, spot: SpotState): boolean {
  return state.events.some(
    (event) =>
      event.cause === 'probe' &&
      event.endedAt === null &&
      event.spots.some((m) => m.moved && m.spotId === spot.spotId && m.probe === spot.probe),
  )
}

function forget(state: WatchState, hour: number): void {
  for (let i = state.spots.length - 1; i >= 0; i--) {
    if (state.spots[i]!.lastRow < hour - FORGOTTEN_MS) state.spots.splice(i, 1)
  }
}
