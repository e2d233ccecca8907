import { createWriteStream, mkdirSync, rmSync } from 'node:fs'
import { copyFile, rename } from 'node:fs/promises'
import { join } from 'node:path'
import { pipeline } from 'node:stream/promises'
import { HubError } from '../errors.ts'
import { checkBackup, hubOfBackup } from '../store/backup.ts'
import type { BroughtBack, Refused } from '../store/damage.ts'
import { keepPrivate } from '../store/keep-private.ts'
import type { Stores } from '../store/open.ts'
import { untar } from '../transfer/tar.ts'
import { say } from '../words/say.ts'

/** What came back, or why it is no backup that can be used, in the language spoken here. */
export type BringBack =
  | (BroughtBack & {
      /** When the backup was made, epoch ms. */
      readonly madeAt: number
    })
  | Refused

/** Takes away what a hub left behind that was cut off while it brought readings back; it may be large. */
export const clearBroughtBack = (room: string): void =>
  rmSync(join(room, 'bringing-back'), { recursive: true, force: true })

/**
 * Brings damaged readings back out of a backup: its folder, or its archive as it comes.
 *
 * @param options.room a folder in which there is room for the readings of the backup for as long as this takes
 */
export async function bringBack(
  { readings, garden }: Pick<Stores, 'readings' | 'garden'>,
  backup: string | AsyncIterable<Uint8Array>,
  options: {
    readonly room: string
    readonly now: number
    readonly signal?: AbortSignal
    /** Hears the share that is done, 0 to 1. */
    readonly tell?: (share: number) => void
  },
): Promise<BringBack> {
  const { room, now: at, signal, tell } = options
  const scratch = join(room, 'bringing-back')
  clearBroughtBack(room)
  mkdirSync(scratch, { mode: 0o700 })
  try {
    const checked = await (typeof backup === 'string' ? check(backup) : unpack(backup, scratch))
    if ('refused' in checked) return checked
    const [own, theirs] = await Promise.all([garden.own('hub-id'), hubOfBackup(checked.folder)])
    if (own !== null && theirs !== null && own !== theirs)
      return { refused: say`expected a backup of this hub, got one of another` }
    // What is looked through is brought to the newest layout, and a backup stays as it is.
    const copy = join(scratch, 'copy.db')
    const place = typeof backup === 'string' ? copyFile : rename
    await place(join(checked.folder, 'readings.db'), copy)
    keepPrivate(copy)
    const brought = await readings.damage.bringBack(copy, {
      at,
      ...(signal === undefined ? {} : { signal }),
      ...(tell === undefined ? {} : { tell }),
    })
    return 'refused' in brought ? brought : { ...brought, madeAt: checked.madeAt }
  } finally {
    clearBroughtBack(room)
  }
}

type Checked = { readonly folder: string; readonly madeAt: number } | { readonly refused: string }

async function check(folder: string): Promise<Checked> {
  try {
    return { folder, madeAt: (await checkBackup(folder)).madeAt }
  } catch (error) {
    if (!(error instanceof HubError)) throw error
    return { refused: error.message }
  }
}

async function unpack(archive: AsyncIterable<Uint8Array>, scratch: string): Promise<Checked> {
  const file = join(scratch, 'archive.tar')
  const folder = join(scratch, 'unpacked')
  await pipeline(archive, createWriteStream(file, { mode: 0o600 }))
  mkdirSync(folder, { mode: 0o700 })
  try {
    await untar(file, folder)
  } catch (error) {
    return { refused: (error as Error).message }
  }
  rmSync(file)
  const checked = await check(folder)
  if (!('refused' in checked)) return checked
  // Whoever sent the archive knows nothing of where it was unpacked.
  const { refused } = checked
  return { refused: refused.replaceAll(`${folder}: `, '').replaceAll(`${folder}/`, '') }
}
