import { HOUR } from '../../model/clock.ts'
import { OUT_OF_SOIL } from '../moisture/out-of-soil.ts'
import type { SpotState, WatchContext } from './watch-state.ts'

/** A handled electrode reads wrongly until its junction has settled. */
export const VISIT_AFTER_MS = 16 * HOUR
/** Seen out of the soil again this soon, it is the same visit. */
const SAME_VISIT_MS = 6 * HOUR
const VISITS_KEPT = 12

export interface Visit {
  /** Epoch ms. */
  readonly at: number
  /** Written down, or only seen in the readings. */
  readonly logged: boolean
}

/** Notes an electrode that was out of the soil in this hour. */
export function seeVisit(spot: SpotState, hour: number, moistureLow: number): void {
  if (!(moistureLow < OUT_OF_SOIL)) return
  const last = spot.seenVisits.at(-1)
  if (last !== undefined && hour - last < SAME_VISIT_MS) return
  spot.seenVisits.push(hour)
  if (spot.seenVisits.length > VISITS_KEPT) spot.seenVisits.shift()
}

/** Calibrations, services and sightings of one probe with `from <= at <= to` (epoch ms), latest first. */
export function visitsOf(
  spot: SpotState,
  context: WatchContext,
  from: number,
  to: number,
): Visit[] {
  const out: Visit[] = []
  const note = (at: number, logged: boolean): void => {
    if (at >= from && at <= to) out.push({ at, logged })
  }
  for (const at of context.calibratedAt.get(spot.probe) ?? []) note(at, true)
  for (const { kind, probe, at } of context.journal) {
    if (kind === 'service' && probe === spot.probe) note(at, true)
  }
  for (const at of spot.seenVisits) note(at, false)
  return out.toSorted((a, b) => b.at - a.at)
}

/** The newest visit up to `to`, epoch ms; -Infinity when there was none. */
export function latestVisit(spot: SpotState, context: WatchContext, to: number): number {
  let latest = -Infinity
  const times = context.calibratedAt.get(spot.probe)
  if (times !== undefined) {
    for (let i = times.length - 1; i >= 0; i--) {
      if (times[i]! > to) continue
      latest = times[i]!
      break
    }
  }
  for (let i = context.journal.length - 1; i >= 0; i--) {
    const { kind, probe, at } = context.journal[i]!
    if (kind !== 'service' || probe !== spot.probe || at > to) continue
    latest = Math.max(latest, at)
    break
  }
  return Math.max(latest, spot.seenVisits.at(-1) ?? -Infinity)
}
