import type { WatchEvent } from '../analysis/watch/event.ts'
import { eventsOf } from '../analysis/watch/events-of.ts'
import { calibratedAt } from '../analysis/watch/calibrated-at.ts'
import { foldBeds, type Folding } from '../analysis/watch/fold-beds.ts'
import { startWatch } from '../analysis/watch/start-watch.ts'
import { watchHours } from '../analysis/watch/watch-hours.ts'
import { WATCH_VERSION, type WatchContext, type WatchState } from '../analysis/watch/watch-state.ts'
import type { Bed } from '../model/bed.ts'
import { DAY, HOUR, MINUTE } from '../model/clock.ts'
import type { SpotDay } from '../model/spot-day.ts'
import { loadFeeds, readSites } from '../store/feeds.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { ReadingStore } from '../store/reading-store.ts'
import type { WatchStore } from '../store/watch-store.ts'

/** An hour is taken in this long after its end: what was measured in it has mostly arrived by then. */
export const GRACE_MS = 2 * MINUTE
/** Hours that are read before those to be taken in, so that a row knows its recent past. */
const LOOK_BACK_MS = 48 * HOUR
/** History is gone through in pieces of this length. */
const PIECE_MS = 30 * DAY
/** States are kept at midnight for so long (see WatchStore), and before that at every thirtieth. */
const DENSE_MS = 14 * DAY
const SPARSE_DAYS = 30

/** The watch of one bed, up to the last hour that is closed. */
export interface BedWatch {
  readonly state: WatchState
  readonly context: WatchContext
}

export interface WatchFold {
  /** Takes in every hour of these beds that was closed by `at`, all beds hour by hour together. */
  upTo(beds: readonly Bed[], at: number): Promise<ReadonlyMap<number, BedWatch>>
  /** Whatever was taken in of this bed from `from` on (epoch ms) no longer holds. */
  changed(bedId: number, from: number): void
  /** Everything the watch of a bed remembers, oldest first; empty while it is not held in memory. */
  events(bedId: number): readonly WatchEvent[]
  /** All day rows of a bed. */
  days(bedId: number): Promise<readonly SpotDay[]>
}

interface Held {
  state: WatchState
  /** What has to be forgotten in the store with the next write; null when nothing has. */
  droppedFrom: number | null
}

/**
 * The fold over hours, kept going: states in memory and in the store, refolded from an earlier state when hours
 * that were already taken in change. All beds are folded hour by hour together, so that what one tells of the
 * others never depends on when somebody looked.
 */
export function watchFold(deps: {
  readonly readings: ReadingStore
  readonly garden: GardenStore
  readonly memory: WatchStore
}): WatchFold {
  const { readings, garden, memory } = deps
  const held = new Map<number, Held>()
  const changedFrom = new Map<number, number>()
  /**
   * What had changed when a hub was cut off may not have been taken in: a new one goes through the last days again, for
   * which a state of every midnight is kept.
   */
  let begun = false

  /** The state to go on from: the one in memory, one from the store, or none of the bed's hours. */
  async function stateOf(
    bed: Bed,
    from: number | undefined,
    first: number,
    closed: number,
  ): Promise<Held> {
    const own = held.get(bed.id)
    if (own !== undefined && (from === undefined || from >= own.state.cursor)) return own
    const notAfter = Math.min(from ?? Infinity, closed)
    const known = await memory.recallWatch(bed.id, WATCH_VERSION, notAfter)
    const start = Math.floor(first / HOUR) * HOUR
    const state = known === null ? startWatch(bed, start) : (known.state as WatchState)
    const fresh = { state, droppedFrom: known === null ? -Infinity : known.hour }
    held.set(bed.id, fresh)
    return fresh
  }

  async function contextsFor(beds: readonly Bed[]): Promise<Map<number, Folding['context']>> {
    const [calibrations, journal] = await Promise.all([garden.calibrations(), garden.journal({})])
    const times = calibratedAt(calibrations)
    return new Map(
      beds.map((bed) => [
        bed.id,
        {
          bed,
          journal: journal.filter(({ bedId }) => bedId === bed.id),
          calibratedAt: times,
          others: [],
        },
      ]),
    )
  }

  async function upTo(beds: readonly Bed[], at: number): Promise<ReadonlyMap<number, BedWatch>> {
    // Before anything is read: what changes from here on may be missed by this round, and waits for the next.
    if (!begun) for (const { id } of beds) changed(id, at - DENSE_MS)
    begun = true
    const marks = new Map(changedFrom)
    changedFrom.clear()
    try {
      return await foldTo(beds, marks, at)
    } catch (error) {
      // Nothing that was said to have changed may be forgotten over a store that was away.
      for (const [bedId, from] of marks) changed(bedId, from)
      throw error
    }
  }

  function changed(bedId: number, from: number): void {
    changedFrom.set(bedId, Math.min(from, changedFrom.get(bedId) ?? Infinity))
  }

  async function foldTo(
    beds: readonly Bed[],
    marks: ReadonlyMap<number, number>,
    at: number,
  ): Promise<ReadonlyMap<number, BedWatch>> {
    const closed = Math.floor((at - GRACE_MS) / HOUR) * HOUR
    const [spots, placements, contexts] = await Promise.all([
      garden.spots(),
      garden.placements(),
      contextsFor(beds),
    ])
    const watches: { bed: Bed; own: Held; context: Folding['context'] }[] = []
    for (const bed of beds) {
      const own = new Set(spots.flatMap((s) => (s.bedId === bed.id ? s.id : [])))
      const since = placements.flatMap((p) => (own.has(p.spotId) ? p.from : []))
      const first = Math.min(closed, ...since)
      watches.push({
        bed,
        own: await stateOf(bed, marks.get(bed.id), first, closed),
        context: contexts.get(bed.id)!,
      })
    }
    for (;;) {
      const from = Math.min(...watches.map(({ own }) => own.state.cursor))
      if (!(from < closed)) break
      await takeIn(watches, Math.min(closed, Math.floor(from / DAY) * DAY + PIECE_MS), closed)
    }
    return new Map(watches.map(({ bed, own, context }) => [bed.id, { state: own.state, context }]))
  }

  /** Folds everybody who is behind up to `to`, and keeps what came of it. */
  async function takeIn(
    watches: readonly { bed: Bed; own: Held; context: Folding['context'] }[],
    to: number,
    closed: number,
  ): Promise<void> {
    const behind = watches.filter(({ own }) => own.state.cursor < to)
    try {
      const sites = await readSites(garden)
      const beds = await Promise.all(
        behind.map(async ({ bed, own, context }): Promise<Folding> => {
          const start = own.state.cursor
          const feeds = await loadFeeds(
            { readings, garden },
            bed,
            start - LOOK_BACK_MS,
            to,
            'hour',
            sites,
          )
          const hours = watchHours(feeds).filter(({ hour }) => hour >= start && hour < to)
          return { state: own.state, context, hours }
        }),
      )
      const kept = behind.map((): { hour: number; state: WatchState }[] => [])
      const days = behind.map((): SpotDay[] => [])
      foldBeds(beds, to, {
        standing: watches.flatMap((watch) => (behind.includes(watch) ? [] : watch.own.state)),
        onHour(i, end, complete) {
          days[i]!.push(...complete)
          if (end < to && isKept(end, closed)) {
            kept[i]!.push({ hour: end, state: structuredClone(beds[i]!.state) })
          }
        },
      })
      for (const [i, { bed, own }] of behind.entries()) {
        const states = [...kept[i]!, { hour: own.state.cursor, state: own.state }]
        await memory.rememberWatch(bed.id, {
          from: own.droppedFrom,
          states: states.map((state) => ({ ...state, version: WATCH_VERSION })),
          days: days[i]!,
        })
        own.droppedFrom = null
      }
    } catch (error) {
      // Half taken in is worse than not at all: next time it starts from what is stored.
      for (const { bed } of behind) held.delete(bed.id)
      throw error
    }
  }

  return {
    upTo,
    changed,
    events(bedId) {
      const own = held.get(bedId)
      return own === undefined ? [] : eventsOf(own.state)
    },
    days: (bedId) => memory.spotDays(bedId, -Infinity, Infinity),
  }
}

function isKept(end: number, closed: number): boolean {
  return end % DAY === 0 && (end >= closed - DENSE_MS || (end / DAY) % SPARSE_DAYS === 0)
}
