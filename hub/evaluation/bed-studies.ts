import { bandFor } from '../analysis/band.ts'
import { type StudiedBed, type Study, studiedBed, study } from '../analysis/study.ts'
import { eventsOf } from '../analysis/watch/events-of.ts'
import type { Bed } from '../model/bed.ts'
import { DAY } from '../model/clock.ts'
import { yearStart } from '../model/zone.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { BedWatch, WatchFold } from './fold-watch.ts'

export interface BedStudies {
  latest(bedId: number): Study | null
  /** Something of this bed changed: its slow questions are gone through again. */
  outdated(bedId: number): void
  /** All of them: they are to be said in another language. */
  allOutdated(): void
  /**
   * Goes through the slow questions of the one bed that needs it most; resolves to its id, or null when all are of
   * today. One at a time: the loop has other things to do in between.
   */
  goOn(
    beds: readonly Bed[],
    watches: ReadonlyMap<number, BedWatch>,
    at: number,
  ): Promise<number | null>
}

/** The slow questions of each bed, gone through once a UTC day and when something they rest on changed. */
export function bedStudies(deps: {
  readonly garden: GardenStore
  readonly fold: WatchFold
}): BedStudies {
  const { garden, fold } = deps
  const studies = new Map<number, Study>()
  const stale = new Set<number>()
  /** How often something was outdated: tells whether that happened while days were read. */
  let changes = 0
  /** Days of all beds, ready for the day they were read on. */
  let ready: { day: number; beds: ReadonlyMap<number, StudiedBed> } | null = null

  async function readBeds(
    beds: readonly Bed[],
    watches: ReadonlyMap<number, BedWatch>,
    day: number,
  ): Promise<ReadonlyMap<number, StudiedBed>> {
    const missing =
      ready === null || ready.day !== day || beds.some(({ id }) => !ready!.beds.has(id))
    if (!missing && ready !== null) return ready.beds
    const before = changes
    const journal = await garden.journal({})
    const rows = await Promise.all(beds.map((bed) => fold.days(bed.id)))
    const made = new Map(
      beds.map((bed, i) => {
        const watch = watches.get(bed.id)
        const visits = watch === undefined ? undefined : visitsOf(watch)
        return [bed.id, studiedBed(bed, rows[i]!, journal, visits)]
      }),
    )
    // What was read while something changed is good for this once only.
    if (changes === before) ready = { day, beds: made }
    return made
  }

  return {
    latest: (bedId) => studies.get(bedId) ?? null,
    outdated(bedId) {
      stale.add(bedId)
      changes++
      ready = null
    },
    allOutdated() {
      for (const id of studies.keys()) stale.add(id)
    },
    async goOn(beds, watches, at) {
      const day = Math.floor(at / DAY)
      for (const id of studies.keys()) if (!beds.some((bed) => bed.id === id)) studies.delete(id)
      const next = beds.find(({ id }) => {
        const known = studies.get(id)
        return known === undefined || stale.has(id) || Math.floor(known.at / DAY) !== day
      })
      const watch = next === undefined ? undefined : watches.get(next.id)
      // Years of all beds are not held until tomorrow.
      if (next === undefined) ready = null
      if (next === undefined || watch === undefined) return null
      // Before it is read: what changes meanwhile makes it stale again.
      const wasStale = stale.delete(next.id)
      const [all, { zone }] = await Promise.all([
        readBeds(beds, watches, day),
        garden.garden(),
      ]).catch((error: unknown) => {
        if (wasStale) stale.add(next.id)
        throw error
      })
      studies.set(
        next.id,
        study(
          all.get(next.id)!,
          Array.from(all.values()).filter(({ bed }) => bed.id !== next.id),
          {
            events: eventsOf(watch.state),
            visits: visitsOf(watch),
            band: bandFor(next).band,
            yearFrom: yearStart(at, zone),
          },
          at,
        ),
      )
      return next.id
    },
  }
}

/** When each probe was calibrated or serviced, as far as it is written down. */
function visitsOf({ context }: BedWatch): ReadonlyMap<string, readonly number[]> {
  const out = new Map<string, number[]>()
  for (const [probe, times] of context.calibratedAt) out.set(probe, [...times])
  for (const { kind, probe, at } of context.journal) {
    if (kind === 'service' && probe !== null) out.set(probe, [...(out.get(probe) ?? []), at])
  }
  for (const times of out.values()) times.sort((a, b) => a - b)
  return out
}
