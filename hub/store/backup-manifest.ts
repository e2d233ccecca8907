import { closeSync, openSync, readSync, statSync } from 'node:fs'
import type { HubError } from '../errors.ts'
import { say } from '../words/say.ts'

export const BACKUP_FORMAT = 1

export interface BackupFile {
  readonly name: string
  readonly bytes: number
  readonly sha256: string
  /** Number of the last migration that ran on it. */
  readonly layout: number
}

/** What a backup says of itself; the file `backup.json` in it, written last. */
export interface BackupManifest {
  readonly format: typeof BACKUP_FORMAT
  /** Version of the hub that made it. */
  readonly version: string
  /** Epoch ms. */
  readonly madeAt: number
  readonly files: readonly BackupFile[]
  /** What is in it that must not be read by others; backups of older versions do not say. */
  readonly secrets?: readonly string[]
}

/** A manifest of ours has a few hundred bytes. */
const MOST_BYTES = 64 * 1024

type Fields = Readonly<Record<string, unknown>>
type Refuse = (message: string, cause?: unknown) => HubError

/**
 * Reads what a backup says of itself. The folder may come from anybody: nothing of it is believed before it was looked
 * at.
 *
 * @throws what `refuse` makes of a sentence
 */
export function readManifest(from: string, file: string, refuse: Refuse): BackupManifest {
  let said: unknown
  try {
    said = JSON.parse(readSmall(file))
  } catch (error) {
    const name = file.slice(from.length + 1)
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') {
      throw refuse(say`${from}: expected a backup, found no ${name} in it`, error)
    }
    // What the parser says repeats what stands there.
    const why = error instanceof SyntaxError ? say`it is no JSON` : (error as Error).message
    throw refuse(say`${from}: expected a backup, found no ${name} that can be read (${why})`, error)
  }
  const fields = isObject(said) ? said : {}
  const { format, version, madeAt, files } = fields
  if (format !== BACKUP_FORMAT || !Array.isArray(files)) {
    throw refuse(
      say`${file}: expected a backup of format ${BACKUP_FORMAT}, got ${shown(format)}; a newer Loamline may read it`,
    )
  }
  const wrong = (what: string, got: unknown): HubError =>
    refuse(say`${file}: expected ${what}, got ${shown(got)}`)
  if (typeof version !== 'string' || !/^[\w.+-]{1,40}$/.test(version)) {
    throw wrong(say`the version of the hub that made it`, version)
  }
  if (typeof madeAt !== 'number' || !(Math.abs(madeAt) <= 8.64e15)) {
    throw wrong(say`when it was made, epoch milliseconds`, madeAt)
  }
  const bad = files.find((one) => !isFile(one))
  if (bad !== undefined) throw wrong(say`the name, size and SHA-256 of each file`, bad)
  return said as BackupManifest
}

const isObject = (value: unknown): value is Fields => typeof value === 'object' && value !== null
const isFile = (value: unknown): boolean =>
  isObject(value) &&
  typeof value['name'] === 'string' &&
  typeof value['sha256'] === 'string' &&
  /^[0-9a-f]{64}$/.test(value['sha256'])

/** A value of others, short and in one line. */
function shown(value: unknown): string {
  const text = JSON.stringify(value) ?? 'nothing'
  return text.length > 80 ? `${text.slice(0, 79)}…` : text
}

function readSmall(file: string): string {
  if (!statSync(file).isFile()) throw new Error(say`it is no file`)
  const handle = openSync(file, 'r')
  try {
    const bytes = Buffer.alloc(MOST_BYTES + 1)
    const length = readSync(handle, bytes, 0, bytes.length, 0)
    if (length > MOST_BYTES) throw new Error(say`it is longer than ${MOST_BYTES / 1024} KiB`)
    return bytes.toString('utf8', 0, length)
  } finally {
    closeSync(handle)
  }
}
