import { HubError } from '../errors.ts'
import type { Clock } from '../model/clock.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { ReadingStore } from '../store/reading-store.ts'
import { rawBefore } from '../store/retention/raw-before.ts'
import type { AtUpkeep, Upkeep } from '../store/retention/upkeep.ts'

/** Share of the work that making hours is; the rest is giving space back. */
const THINNING = 0.8

export interface ThinDeps {
  readonly readings: ReadingStore
  readonly garden: GardenStore
  readonly clock: Clock
}

export interface Thinned {
  /** Readings that became hours. */
  readonly readings: number
  /** Days of probes gone through, and all there were. */
  readonly days: number
  readonly of: number
  /** Given back to the disk. */
  readonly bytes: number
}

/** @throws HubError HUB_CONFIG where the readings lie in a database that keeps house by itself */
export function upkeepOf(readings: ReadingStore): Upkeep {
  const { upkeep } = readings
  if (upkeep === undefined) {
    throw new HubError(
      'HUB_CONFIG',
      'the readings lie in a database of its own, which has rules of its own for what is old; the hub thins nothing there',
      { retry: false },
    )
  }
  return upkeep
}

/**
 * Makes hours of the readings that are older than the garden wants to keep them, and gives the space back to the disk.
 * Nothing happens while the garden keeps them for ever.
 */
export async function thinReadings(
  { readings, garden, clock }: ThinDeps,
  at: Required<AtUpkeep>,
): Promise<Thinned> {
  const { rawMonths } = await garden.retention()
  if (rawMonths === null) return { readings: 0, days: 0, of: 0, bytes: 0 }
  const upkeep = upkeepOf(readings)
  const before = rawBefore(clock(), (await garden.garden()).zone, rawMonths)
  const { signal } = at
  const thinned = await upkeep.thin(before, { signal, tell: (share) => at.tell(THINNING * share) })
  if (signal.aborted) return { ...thinned, bytes: 0 }
  const { bytes } = await upkeep.shrink({
    signal,
    tell: (share) => at.tell(THINNING + (1 - THINNING) * share),
  })
  return { ...thinned, bytes }
}
