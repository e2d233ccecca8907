import { readdir, stat } from 'node:fs/promises'
import { join } from 'node:path'
import type { Logger } from 'pino'
import { HubError } from '../errors.ts'
import { diskOf } from './hub-facts.ts'
import type { Jobs } from '../jobs/open-jobs.ts'
import { thinReadings } from '../jobs/thin-readings.ts'
import { DAY, HOUR, MINUTE, type Clock } from '../model/clock.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { ReadingStore } from '../store/reading-store.ts'
import { rawBefore } from '../store/retention/raw-before.ts'

/** The first look waits until the hub has what it needs at its start. */
const FIRST_LOOK_MS = MINUTE
const LOOK_EVERY_MS = HOUR
/** Old readings become hours in the night of the garden, when nobody waits for a page. */
const NIGHT_FROM_HOUR = 2
const NIGHT_TO_HOUR = 6
/** On so many days of the last so many the hub must have looked at the disk before anything becomes hours. */
const STEADY_DAYS = 5
const STEADY_WITHIN_MS = 14 * DAY

/** Bytes of everything in a folder; null when it cannot be asked. A file that goes meanwhile counts nothing. */
export async function folderBytes(folder: string): Promise<number | null> {
  const entries = await readdir(folder, { recursive: true, withFileTypes: true }).catch(() => null)
  if (entries === null) return null
  const sizes = await Promise.all(
    entries
      .filter((entry) => entry.isFile())
      .map((entry) =>
        stat(join(entry.parentPath, entry.name)).then(
          ({ size }) => size,
          () => 0,
        ),
      ),
  )
  return sizes.reduce((sum, size) => sum + size, 0)
}

export interface StorageLooks {
  /** Looks now, as it does every hour by itself. */
  look(): Promise<void>
  stop(): void
}

/** Notes every day how full the disk is, and makes hours of old readings by night if the garden wants it. */
export function wireStorage(options: {
  readonly dataDir: string
  readonly garden: GardenStore
  readonly readings: ReadingStore
  readonly clock: Clock
  readonly jobs: Jobs
  readonly log: Pick<Logger, 'warn' | 'info'>
  /** A mistake of ours. */
  readonly onFatal: (error: unknown) => void
}): StorageLooks {
  const { dataDir, garden, readings, clock, jobs, log, onFatal } = options
  let thinnedBefore = -Infinity

  async function note(): Promise<void> {
    const [disk, usedBytes] = await Promise.all([diskOf(dataDir), folderBytes(dataDir)])
    if (disk === null || usedBytes === null) return
    const { readings: count } = await readings.counts()
    await garden.noteStorageDay({ at: clock(), usedBytes, ...disk, readings: count })
  }

  async function thinByNight(): Promise<void> {
    const { rawMonths } = await garden.retention()
    if (rawMonths === null || readings.upkeep === undefined) return
    const now = clock()
    const { zone } = await garden.garden()
    const { hour } = Temporal.Instant.fromEpochMilliseconds(now).toZonedDateTimeISO(zone)
    if (hour < NIGHT_FROM_HOUR || hour >= NIGHT_TO_HOUR) return
    // A clock that was set years ahead makes all readings old at once: it must have gone on steadily for a while.
    const days = await garden.storageDays()
    const steady = days.filter(({ at }) => at > now - STEADY_WITHIN_MS && at <= now)
    if (steady.length < STEADY_DAYS) return
    const before = rawBefore(now, zone, rawMonths)
    if (before <= thinnedBefore) return
    if ((await readings.upkeep.wouldThin(before)).readings > 0) {
      const started = jobs.start('thin', null, async ({ signal, tell, keep }) => {
        const thinned = await thinReadings(options, { signal, tell })
        if (signal.aborted) keep({ done: thinned.days, of: thinned.of })
        return { done: thinned.readings }
      })
      // Somebody has it done already.
      if (started === null) return
      const result = await started.result
      if (result === null) return
      log.info(`${result.done} readings older than ${rawMonths} months became hours`)
    }
    thinnedBefore = before
  }

  async function look(): Promise<void> {
    try {
      await note()
      await thinByNight()
    } catch (error) {
      if (error instanceof HubError) log.warn(error.message)
      else onFatal(error)
    }
  }
  const first = setTimeout(() => void look(), FIRST_LOOK_MS)
  const timer = setInterval(() => void look(), LOOK_EVERY_MS)
  return {
    look,
    stop() {
      clearTimeout(first)
      clearInterval(timer)
    },
  }
}
