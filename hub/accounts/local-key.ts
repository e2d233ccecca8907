import { readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'

/** Its name in the data folder. Not part of a backup. */
const FILE = 'local-key'

/** Lays the key of this run into the data folder: who can read that may do everything anyway. */
export function layLocalKey(dataDir: string, key: string): () => void {
  const file = join(dataDir, FILE)
  // Away first: an old one may have rights it should not have, and writing would keep them.
  rmSync(file, { force: true })
  writeFileSync(file, key, { mode: 0o600, flag: 'wx' })
  return () => rmSync(file, { force: true })
}

/** The key of the hub that runs on a data folder; null when there is none to read. */
export function readLocalKey(dataDir: string): string | null {
  try {
    return readFileSync(join(dataDir, FILE), 'utf8').trim()
  } catch {
    return null
  }
}
