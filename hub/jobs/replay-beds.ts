import { startReplay, type ReplayBed, type ReplayResult } from '../alerts/replay.ts'
import { calibratedAt } from '../analysis/watch/calibrated-at.ts'
import { startWatch } from '../analysis/watch/start-watch.ts'
import { watchHours } from '../analysis/watch/watch-hours.ts'
import type { Bed, Spot } from '../model/bed.ts'
import { DAY, HOUR } from '../model/clock.ts'
import type { JournalEntry } from '../model/journal.ts'
import { loadFeeds } from '../store/feeds.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { ReadingStore } from '../store/reading-store.ts'

/** A bed before its first hour. */
export function replayBed(
  bed: Bed,
  spots: readonly Spot[],
  hours: ReplayBed['folding']['hours'],
  journal: readonly JournalEntry[],
  times: ReadonlyMap<string, readonly number[]>,
): ReplayBed {
  const start = hours[0]?.hour ?? 0
  return {
    folding: {
      state: startWatch(bed, start),
      context: { bed, journal, calibratedAt: times, others: [] },
      hours,
    },
    spots,
  }
}

export interface LoadedBeds {
  readonly beds: readonly ReplayBed[]
  readonly journal: readonly JournalEntry[]
}

/** Everything stored of some beds, hour by hour, ready to be gone through again. */
export async function loadReplayBeds(
  { garden, readings }: { readonly garden: GardenStore; readonly readings: ReadingStore },
  beds: readonly Bed[],
  now: number,
): Promise<LoadedBeds> {
  await readings.settle()
  const [spots, placements, calibrations, journal] = await Promise.all([
    garden.spots(),
    garden.placements(),
    garden.calibrations(),
    garden.journal({}),
  ])
  const times = calibratedAt(calibrations)
  const made: ReplayBed[] = []
  for (const bed of beds) {
    const own = spots.filter((spot) => spot.bedId === bed.id)
    const since = placements.flatMap((p) => (own.some(({ id }) => id === p.spotId) ? p.from : []))
    const from = Math.floor(Math.min(now, ...since) / DAY) * DAY
    const feeds = await loadFeeds({ readings, garden }, bed, from, now, 'hour')
    const entries = journal.filter((e) => e.bedId === bed.id)
    made.push(replayBed(bed, own, watchHours(feeds), entries, times))
  }
  return { beds: made, journal }
}

/** Hours of every bed that are gone through between two looks at what else wants to be done: some milliseconds. */
const SLICE_MS = 48 * HOUR

/**
 * The same as `replay`, in slices that leave room for readings that come meanwhile.
 *
 * @returns null when it was given up
 */
export async function replayInSlices(
  beds: readonly ReplayBed[],
  from: number,
  to: number,
  options: { readonly signal: AbortSignal; readonly tell: (share: number) => void },
): Promise<ReplayResult | null> {
  const going = startReplay(beds, from, to)
  const { start } = going
  for (let until = start; until < to;) {
    await new Promise((resolve) => setImmediate(resolve))
    if (options.signal.aborted) return null
    until = Math.min(to, until + SLICE_MS)
    going.goOn(until)
    options.tell((until - start) / (to - start))
  }
  return going.result()
}

/** The end of the hour that a moment lies in, epoch ms. */
export const hourAfter = (at: number): number => Math.ceil(at / HOUR) * HOUR
