import { closeSync, existsSync, mkdirSync, openSync, readdirSync, readSync } from 'node:fs'
import { renameSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { HubError } from '../errors.ts'
import type { CopierApi } from './sqlite/copy-worker.ts'
import { startRemote } from './sqlite/remote.ts'

/** A database that was damaged, and where it lies now. */
export interface SetAside {
  readonly name: string
  /** The folder it was moved into, absolute. */
  readonly folder: string
  /** When, epoch ms. */
  readonly at: number
}

/** Databases larger than this are looked through only when there is a reason to, bytes: it would hold up the start. */
const LOOKED_THROUGH_BYTES = 512 * 1024 * 1024
const PREFIX = 'damaged-'
/** Left beside a database in which damage was met while the hub ran. */
const SUSPECT = '-suspect'
/** The database header (https://sqlite.org/fileformat2.html, 1.3): page size at 16, pages at 28, big-endian. */
const HEADER_BYTES = 100

const sizeOf = (file: string): number => (existsSync(file) ? statSync(file).size : 0)

/** Says that damage was met in a database: at the next start it is looked through, whatever its size. */
export function suspect(file: string): void {
  try {
    writeFileSync(file + SUSPECT, '')
  } catch {
    // A disk in such a state may refuse this, too; what was met is told anyway.
  }
}

/** A file that ends before its own header says; only where no log holds what is missing. */
function isCutOff(file: string): boolean {
  const bytes = sizeOf(file)
  if (bytes === 0 || sizeOf(`${file}-wal`) > 0) return false
  const header = Buffer.alloc(HEADER_BYTES)
  const handle = openSync(file, 'r')
  try {
    if (readSync(handle, header, 0, HEADER_BYTES, 0) < HEADER_BYTES) return true
  } finally {
    closeSync(handle)
  }
  const page = header.readUInt16BE(16)
  return bytes < header.readUInt32BE(28) * (page === 1 ? 65_536 : page)
}

async function lookThrough(file: string): Promise<string | null> {
  const copier = await startRemote<CopierApi>(
    new URL('./sqlite/copy-worker.ts', import.meta.url),
    { file },
    // Whoever waits for the answer hears of it.
    { onDeath: () => {} },
  )
  try {
    const { damage } = await copier.call('examine', [file])
    return damage === null ? null : damage.replaceAll(/\s+/g, ' ').trim()
  } catch (error) {
    if (error instanceof HubError && !error.retry) return error.message
    throw error
  } finally {
    await copier.close()
  }
}

/**
 * What is wrong with a database file; null when nothing was found. One that was closed in order is only held
 * against its own header. After a power cut, or when damage was met before, all of it is read.
 *
 * @param thorough all of it is read in any case. @default false
 */
export async function damageOf(file: string, thorough = false): Promise<string | null> {
  if (sizeOf(file) === 0) return null
  if (isCutOff(file)) return 'it ends before its own header says it does'
  const suspected = existsSync(file + SUSPECT)
  const unclean = sizeOf(`${file}-wal`) > 0 && sizeOf(file) <= LOOKED_THROUGH_BYTES
  if (!thorough && !suspected && !unclean) return null
  const damage = await lookThrough(file)
  if (damage === null) rmSync(file + SUSPECT, { force: true })
  return damage
}

/** Whether a database has nothing in it at all; null when it has. */
export function emptied(file: string): 'empty' | 'missing' | null {
  if (sizeOf(file) + sizeOf(`${file}-wal`) > 0) return null
  return existsSync(file) ? 'empty' : 'missing'
}

/** Moves a database with its log into a folder of its own beside it. Nothing is deleted. */
export function setAside(folder: string, name: string, now: number): SetAside {
  const aside = join(folder, `${PREFIX}${name.replace('.db', '')}-${now}`)
  mkdirSync(aside, { mode: 0o700 })
  for (const end of ['', '-wal', '-shm']) {
    const file = join(folder, name + end)
    if (existsSync(file)) renameSync(file, join(aside, name + end))
  }
  rmSync(join(folder, name + SUSPECT), { force: true })
  return { name, folder: aside, at: now }
}

/** Databases that were set aside and still lie there, oldest first. */
export function setAsideIn(folder: string): readonly SetAside[] {
  const found = readdirSync(folder).flatMap((entry) => {
    const parts = /^damaged-([a-z]+)-(\d+)$/.exec(entry)
    if (parts === null) return []
    return [{ name: `${parts[1]}.db`, folder: join(folder, entry), at: Number(parts[2]) }]
  })
  return found.toSorted((a, b) => a.at - b.at)
}

/** Without its garden a folder would come up as a new one: nobody's, open to everybody at the machine. */
export function refuseHalfFolder(folder: string): void {
  const [garden, readings] = ['garden.db', 'readings.db'].map((name) => join(folder, name))
  const lacking = emptied(garden!)
  if (emptied(readings!) !== null || lacking === null) return
  throw new HubError(
    'HUB_STORE_UNAVAILABLE',
    `${folder}: expected garden.db beside readings.db, found ${lacking === 'empty' ? 'an empty one' : 'none'}. ` +
      'Beds, accounts and passwords are in it. Put a backup in place (npm run loamline -- restore --from ' +
      'BACKUP --replace), or move readings.db away to begin a new garden.',
    { retry: false },
  )
}
