import { accessSync, constants, mkdirSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { HubError } from '../errors.ts'
import { lockFolder } from './sqlite/lock-folder.ts'
import { openGardenStore } from './sqlite/open-garden-store.ts'
import { openReadingStore } from './sqlite/open-reading-store.ts'
import { openWatchStore } from './sqlite/open-watch-store.ts'
import type { GardenStore } from './garden-store.ts'
import type { ReadingStore } from './reading-store.ts'
import type { WatchStore } from './watch-store.ts'

export interface Stores {
  readonly readings: ReadingStore
  readonly garden: GardenStore
  readonly memory: WatchStore
  /** Closes all and lets the folder go. */
  close(): Promise<void>
}

function makeFolder(folder: string): void {
  try {
    mkdirSync(folder, { recursive: true })
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
    const garden = await openGardenStore(join(folder, 'garden.db'), options.zone ?? 'UTC', {
      onDeath,
    })
    opened.push(garden)
    const memory = await openWatchStore(join(folder, 'watch.db'), { onDeath })
    opened.push(memory)
    const readings = await openReadingStore(join(folder, 'readings.db'), { onDeath, onTrouble })
    opened.push(readings)
    return { readings, garden, memory, close }
  } catch (error) {
    await close()
    throw error
  }
}
