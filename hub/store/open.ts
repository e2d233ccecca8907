import { accessSync, constants } from 'node:fs'
import { join, resolve } from 'node:path'
import { HubError } from '../errors.ts'
import { openInfluxReadingStore } from './influx/open-influx-reading-store.ts'
import { keepPrivate } from './keep-private.ts'
import { makePath } from './make-path.ts'
import { openOrBegin } from './open-or-begin.ts'
import { lockFolder } from './sqlite/lock-folder.ts'
import { openGardenStore } from './sqlite/open-garden-store.ts'
import { openReadingStore } from './sqlite/open-reading-store.ts'
import { openWatchStore } from './sqlite/open-watch-store.ts'
import {
  damageOf,
  emptied,
  refuseHalfFolder,
  setAside,
  setAsideIn,
  suspect,
  type SetAside,
} from './set-aside.ts'
import type { Clock } from '../model/clock.ts'
import type { GardenStore } from './garden-store.ts'
import type { ForwarderState } from './influx/forwarder.ts'
import type { InfluxTarget } from './influx/influx-client.ts'
import type { Damaged, ReadingStore } from './reading-store.ts'
import type { WatchStore } from './watch-store.ts'

export interface Stores {
  readonly readings: ReadingStore
  readonly garden: GardenStore
  readonly memory: WatchStore
  /** Databases of the folder that were damaged and put aside, now or at an earlier start; oldest first. */
  setAside(): readonly SetAside[]
  /** Parts of the readings that were damaged, put aside and not settled yet; null: none. */
  damaged(): Promise<Damaged | null>
  /** Why readings that were taken cannot be shown yet, in a sentence; null: nothing of the kind is known. */
  settlingProblem(): string | null
  /** Closes all and lets the folder go. */
  close(): Promise<void>
}

/** A folder that is made is for this user alone; one that is there is left as it is. */
export function makeFolder(folder: string): void {
  try {
    makePath(folder, 0o700)
    accessSync(folder, constants.W_OK | constants.X_OK)
  } catch (error) {
    throw new HubError(
      'HUB_STORE_UNAVAILABLE',
      `The data folder ${folder} cannot be created or written (${(error as Error).message}). Choose ` +
        'another with LOAMLINE_DATA_DIR, or give this user the right to write there.',
      { retry: false, cause: error },
    )
  }
}

/** Opens the garden; a damaged one is refused and left as it is. */
async function openGarden<T>(file: string, open: (file: string) => Promise<T>): Promise<T> {
  let damage = await damageOf(file)
  if (damage === null) {
    try {
      return await open(file)
    } catch (error) {
      damage = error instanceof HubError && !error.retry ? await damageOf(file, true) : null
      if (damage === null) throw error
    }
  }
  throw new HubError(
    'HUB_STORE_UNAVAILABLE',
    `${file} is damaged (${damage}). Nothing was changed. Beds, accounts and passwords are in it, so the hub does ` +
      'not go on without it: put a backup in place (npm run loamline -- restore --from BACKUP --replace). Probes ' +
      'keep what they measure meanwhile.',
    { retry: false },
  )
}

/**
 * The same store; when it refuses for good while the hub runs, all of it is looked through at the next start, and
 * whoever hears of it hears what to do.
 */
function watchful(readings: ReadingStore, file: string, died: ReadonlySet<unknown>): ReadingStore {
  let closing = false
  const told = async <T>(work: Promise<T>): Promise<T> => {
    try {
      return await work
    } catch (error) {
      if (closing || !(error instanceof HubError) || error.retry || died.has(error)) throw error
      suspect(file)
      throw new HubError(
        error.code,
        `${error.message} Start the hub again: it looks through the file, puts it aside as it is when it is ` +
          'damaged, and takes readings into a new one.',
        { retry: false, cause: error },
      )
    }
  }
  return {
    ...readings,
    append: (batch) => told(readings.append(batch)),
    recall: (probe, boot) => told(readings.recall(probe, boot)),
    close() {
      closing = true
      return readings.close()
    },
  }
}

/**
 * Opens the stores of a data folder and holds it, so that no second hub can. Creates what is missing.
 * Rejects with HubError HUB_STORE_LOCKED or HUB_STORE_UNAVAILABLE.
 */
export async function openStores(
  dir: string,
  options: {
    /** IANA zone of a garden that is new. @default 'UTC' */
    zone?: string
    /** A thread of the store died; every call rejects from now on. @default throws, uncaught */
    onDeath?: (error: HubError) => void
    /** Something failed that is tried again by itself. @default goes unheard; calls still reject */
    onTrouble?: (error: HubError) => void
    /** Damaged readings are put aside and begun anew, so that probes go on being heard. @default refused */
    putAside?: boolean
    /**
     * An InfluxDB that keeps the readings; null: they are kept in the folder alone from now on.
     * @default they are kept in the folder, and wait for the InfluxDB they went to last
     */
    influx?: InfluxTarget | null
    /** The InfluxDB went away, is away for another reason, or is back. @default goes unheard */
    onForwarding?: (state: ForwarderState) => void
    /** @default Date.now */
    clock?: Clock
  } = {},
): Promise<Stores> {
  const folder = resolve(dir)
  const onDeath =
    options.onDeath ??
    ((error: HubError) => {
      queueMicrotask(() => {
        throw error
      })
    })
  const onTrouble = options.onTrouble ?? (() => {})
  const putAside = options.putAside ?? false

  makeFolder(folder)
  const letGo = lockFolder(folder)
  const opened: { close(): Promise<void> }[] = []
  const close = async (): Promise<void> => {
    try {
      await Promise.all(opened.map((store) => store.close()))
    } finally {
      letGo()
    }
  }
  try {
    refuseHalfFolder(folder)
    const garden = await openGarden(join(folder, 'garden.db'), (file) =>
      openGardenStore(file, options.zone ?? 'UTC', { onDeath }),
    )
    opened.push(garden)
    const memory = await openOrBegin(
      folder,
      'watch.db',
      (file) => openWatchStore(file, { onDeath }),
      { putAside, onTrouble },
    )
    opened.push(memory)
    const readingsFile = join(folder, 'readings.db')
    const lacking = emptied(readingsFile)
    if (putAside && lacking !== null && (await garden.probes()).length > 0) {
      if (lacking === 'empty') setAside(folder, 'readings.db', Date.now())
      onTrouble(
        new HubError(
          'HUB_STORE_UNAVAILABLE',
          `${readingsFile} is ${lacking}, though probes have been heard here; a new one was begun. ` +
            'If you did not take it away yourself, put a backup in place (npm run loamline -- restore --from BACKUP ' +
            '--replace).',
          { retry: false },
        ),
      )
    }
    const died = new Set<unknown>()
    const onReadingsDeath = (error: HubError): void => {
      died.add(error)
      suspect(readingsFile)
      onDeath(error)
    }
    let settlingProblem: string | null = null
    // Tried again every few seconds: said once.
    const onReadingsTrouble = (error: HubError): void => {
      if (!error.retry) suspect(readingsFile)
      if (error.message !== settlingProblem) onTrouble(error)
      settlingProblem = error.message
    }
    // A disk that changes bytes here may have done so elsewhere: all is looked through at the next start.
    const onDamage = (error: HubError): void => {
      suspect(readingsFile)
      onTrouble(error)
    }
    const readings = await openOrBegin(
      folder,
      'readings.db',
      (file) => {
        const watch = { onDeath: onReadingsDeath, onTrouble: onReadingsTrouble, onDamage }
        const { influx, clock = Date.now, onForwarding = () => {} } = options
        return influx === undefined || influx === null
          ? openReadingStore(file, watch, { forward: influx === null ? false : undefined })
          : openInfluxReadingStore(file, influx, { ...watch, onForwarding, clock })
      },
      { putAside, onTrouble },
    )
    opened.push(readings)
    const readable = ['garden.db', 'readings.db', 'watch.db']
      .map((name) => keepPrivate(join(folder, name)))
      .find((sentence) => sentence !== null)
    if (readable !== undefined)
      onTrouble(new HubError('HUB_STORE_UNAVAILABLE', readable, { retry: false }))
    readings.onSettled(() => (settlingProblem = null))
    return {
      readings: watchful(readings, readingsFile, died),
      garden,
      memory,
      setAside: () => setAsideIn(folder),
      damaged: () => readings.damaged(),
      settlingProblem: () => settlingProblem,
      close,
    }
  } catch (error) {
    await close()
    throw error
  }
}
