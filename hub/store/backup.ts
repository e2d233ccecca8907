import { createHash } from 'node:crypto'
import {
  createReadStream,
  existsSync,
  mkdirSync,
  readdirSync,
  renameSync,
  rmSync,
  statSync,
} from 'node:fs'
import { copyFile, open, rename, rm, stat, writeFile } from 'node:fs/promises'
import { pipeline } from 'node:stream/promises'
import { join, resolve } from 'node:path'
import { HubError } from '../errors.ts'
import { say } from '../words/say.ts'
import {
  BACKUP_FORMAT,
  readManifest,
  type BackupFile,
  type BackupManifest,
} from './backup-manifest.ts'
import { keepPrivate } from './keep-private.ts'
import { makePath } from './make-path.ts'
import { lockFolder } from './sqlite/lock-folder.ts'
import { newestLayout } from './sqlite/migrate.ts'
import { startRemote } from './sqlite/remote.ts'
import type { CopierApi } from './sqlite/copy-worker.ts'

/**
 * What of a data folder cannot be made again, in the order in which it is copied: the garden after the readings, so
 * that it knows every probe and channel of them.
 */
const DATABASES = ['readings.db', 'garden.db'] as const
/** Made again from the others; one that does not fit them must not stay. */
const DERIVED = ['watch.db'] as const
const MANIFEST = 'backup.json'
const LOOK_EVERY_MS = 250
const SECRETS = [
  'passwords and keys of routes for messages',
  'the key the hub signs its pushed messages with',
  'what the passwords of people and probes are checked with',
] as const

function refuse(message: string, cause?: unknown): HubError {
  return new HubError('HUB_STORE_UNAVAILABLE', message, { retry: false, cause })
}

async function withCopier<T>(
  work: (copier: Awaited<ReturnType<typeof startCopier>>) => Promise<T>,
) {
  const copier = await startCopier()
  try {
    return await work(copier)
  } finally {
    await copier.close()
  }
}

function startCopier() {
  return startRemote<CopierApi>(
    new URL('./sqlite/copy-worker.ts', import.meta.url),
    { file: 'the copy' },
    // Whoever waits for the copy hears of it.
    { onDeath: () => {} },
  )
}

async function sha256(file: string): Promise<string> {
  const hash = createHash('sha256')
  await pipeline(createReadStream(file), hash)
  return hash.digest('hex')
}

function emptyFolder(folder: string, what: string): void {
  try {
    makePath(folder, 0o700)
    const found = readdirSync(folder)
    if (found.length > 0) {
      throw refuse(
        `${folder}: expected an empty folder for ${what}, found ${found.slice(0, 3).join(', ')}`,
      )
    }
  } catch (error) {
    if (error instanceof HubError) throw error
    throw refuse(`${folder} cannot be made or read (${(error as Error).message})`, error)
  }
}

/**
 * Copies everything in a data folder that cannot be made again to an empty folder, each database as it is at one
 * moment, whether a hub runs on it or not. The manifest comes last: a folder without one is no backup. Of one that
 * fails or is given up nothing stays.
 *
 * @throws HubError HUB_STORE_UNAVAILABLE when there is nothing to copy, or the target is not empty or cannot be written
 */
export async function backUp(
  dataDir: string,
  target: string,
  options: {
    readonly version: string
    readonly now: number
    /** Looked at between two files. */
    readonly signal?: AbortSignal
    /** Hears the share that is done, 0 to 1. */
    readonly tell?: (share: number) => void
  },
): Promise<BackupManifest> {
  const { signal, tell = () => undefined } = options
  const [from, to] = [resolve(dataDir), resolve(target)]
  const missing = DATABASES.find((name) => !existsSync(join(from, name)))
  if (missing !== undefined) {
    throw refuse(`${from}: expected a data folder, found no ${missing} in it`)
  }
  emptyFolder(to, 'the backup')
  const sizes = await Promise.all(
    DATABASES.map(async (name) => (await stat(join(from, name))).size),
  )
  const all = sizes.reduce((sum, size) => sum + size, 0)
  return withCopier(async (copier) => {
    const files: BackupFile[] = []
    let before = 0
    for (const [i, name] of DATABASES.entries()) {
      const file = join(to, name)
      // The copy is written by another thread; how far it is shows in the size of its file.
      const watching = setInterval(() => {
        if (existsSync(file)) tell(Math.min(before + statSync(file).size, all) / all)
      }, LOOK_EVERY_MS)
      try {
        // Its own user's from the first byte on, also in a folder that others may look into.
        await writeFile(file, '', { mode: 0o600 })
        const { layout } = await copier.call('copy', [join(from, name), file])
        const { size: bytes } = await stat(file)
        signal?.throwIfAborted()
        files.push({ name, bytes, sha256: await sha256(file), layout })
        signal?.throwIfAborted()
      } catch (error) {
        // The folder was empty before, and has to be when it is tried again.
        for (const one of DATABASES) await rm(join(to, one), { force: true })
        throw error
      } finally {
        clearInterval(watching)
      }
      before += sizes[i]!
      tell(before / all)
    }
    const { version, now: madeAt } = options
    const manifest: BackupManifest = {
      format: BACKUP_FORMAT,
      version,
      madeAt,
      files,
      secrets: SECRETS,
    }
    await writeLast(join(to, MANIFEST), `${JSON.stringify(manifest, null, 2)}\n`)
    return manifest
  })
}

async function writeLast(file: string, text: string): Promise<void> {
  const handle = await open(`${file}.part`, 'w')
  try {
    await handle.writeFile(text)
    await handle.sync()
  } finally {
    await handle.close()
  }
  await rename(`${file}.part`, file)
}

/**
 * Reads and checks a backup: every file whole, of a layout this hub knows.
 *
 * @throws HubError HUB_STORE_UNAVAILABLE, which says what it is not, in the language spoken here
 */
export async function checkBackup(from: string): Promise<BackupManifest> {
  const file = join(from, MANIFEST)
  const manifest = readManifest(from, file, refuse)
  await withCopier(async (copier) => {
    for (const name of DATABASES) {
      const said = manifest.files.find((one) => one.name === name)
      const path = join(from, name)
      if (said === undefined || !existsSync(path)) {
        throw refuse(say`${from}: expected ${name} in the backup, found none`)
      }
      const found = await sha256(path)
      if (found !== said.sha256) {
        throw refuse(
          say`${path} was changed or damaged since the backup was made (SHA-256 ${said.sha256} expected, ${found} found)`,
        )
      }
      const { layout, damage } = await copier.call('examine', [path]).catch((error: unknown) => {
        const why = (error as Error).message.replace(/^the copy: /, '')
        throw refuse(say`${path} cannot be read: ${why}`, error)
      })
      if (damage !== null) throw refuse(say`${path} is damaged: ${damage}`)
      const newest = newestLayout(name === 'garden.db' ? 'garden' : 'readings')
      if (layout > newest) {
        throw refuse(
          say`${path} was written by a newer Loamline (version ${manifest.version}; its layout is number ${layout}, this one knows up to ${newest}). Restore it with that version.`,
        )
      }
    }
  })
  return manifest
}

/** The id of the hub that a backup is of; null: it had none yet. */
export const hubOfBackup = (from: string): Promise<string | null> =>
  withCopier((copier) => copier.call('hubId', [join(resolve(from), 'garden.db')]))

export interface Restored {
  readonly manifest: BackupManifest
  /** Where what was there before lies now; null when the folder was empty. */
  readonly before: string | null
}

/**
 * Puts a backup in place as a data folder. What is there already is only moved aside when `replace` says so, into a
 * folder beside it; nothing is deleted. An older layout is brought up to date when the hub starts.
 *
 * @throws HubError HUB_STORE_LOCKED while a hub runs on the folder, HUB_STORE_UNAVAILABLE when the backup is not whole
 * or newer than this hub, or the folder is not empty
 */
export async function restore(
  backup: string,
  dataDir: string,
  options: { readonly replace: boolean; readonly now: number },
): Promise<Restored> {
  const [from, to] = [resolve(backup), resolve(dataDir)]
  const manifest = await checkBackup(from)
  const held = existsSync(to) ? readdirSync(to).filter((name) => !name.startsWith('hub.lock')) : []
  if (held.length > 0 && !options.replace) {
    throw refuse(
      `${to}: expected an empty data folder, found ${held.slice(0, 3).join(', ')}. With --replace what is there is ` +
        'moved aside, not deleted.',
    )
  }
  makePath(to, 0o700)
  const letGo = lockFolder(to)
  try {
    // Copied first: the folder changes only once everything lies beside its place.
    for (const name of DATABASES) {
      const copy = join(to, `${name}.restoring`)
      await copyFile(join(from, name), copy)
      keepPrivate(copy)
    }
    const before = held.length > 0 ? moveAside(to, options.now) : null
    for (const name of DATABASES) await rename(join(to, `${name}.restoring`), join(to, name))
    return { manifest, before }
  } catch (error) {
    for (const name of DATABASES) await rm(join(to, `${name}.restoring`), { force: true })
    throw refuse(`${to}: the backup could not be put in place (${(error as Error).message})`, error)
  } finally {
    letGo()
  }
}

/** Moves the databases of a folder, with what belongs to them, into a folder within it. */
function moveAside(folder: string, now: number): string {
  const stamp = new Date(now).toISOString().replace(/[:.]/g, '-')
  const aside = join(folder, `before-restore-${stamp}`)
  mkdirSync(aside, { mode: 0o700 })
  const names = [...DATABASES, ...DERIVED].flatMap((name) => [name, `${name}-wal`, `${name}-shm`])
  for (const name of names) {
    if (existsSync(join(folder, name))) renameSync(join(folder, name), join(aside, name))
  }
  return aside
}

/** A backup within the data folder that is only made to be sent; `drop` removes it. */
export async function backUpToSend(
  dataDir: string,
  options: Parameters<typeof backUp>[2],
): Promise<{ readonly folder: string; readonly drop: () => void }> {
  const folder = join(resolve(dataDir), 'backup-to-send')
  const drop = (): void => rmSync(folder, { recursive: true, force: true })
  // One that a hub left behind when it was cut off.
  drop()
  try {
    await backUp(dataDir, folder, options)
  } catch (error) {
    drop()
    throw error
  }
  return { folder, drop }
}
