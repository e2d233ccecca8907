import { chmodSync, statSync } from 'node:fs'

/** Of a database: the file itself, and what the engine keeps beside it while it is in use. */
const ENDS = ['', '-wal', '-shm'] as const
/** Rights of everybody but the file's own user. */
const OTHERS = 0o077

/**
 * Leaves a database to its own user alone: passwords, keys and where somebody is at home stand in it. What lies in a
 * folder from before, or in one that others may look into, is closed as well.
 *
 * @param file of the database; it and what belongs to it may be missing
 * @returns what cannot be closed, in a sentence; null when nothing stays open
 */
export function keepPrivate(file: string): string | null {
  // Who may read is not told by these numbers there.
  if (process.platform === 'win32') return null
  for (const end of ENDS) {
    const one = file + end
    const open = (): boolean =>
      ((statSync(one, { throwIfNoEntry: false })?.mode ?? 0) & OTHERS) !== 0
    if (!open()) continue
    try {
      chmodSync(one, 0o600)
    } catch {
      // A disk without rights of its own, or somebody else's file: told below.
    }
    if (open())
      return `others on this machine may be able to read ${one}, in which passwords stand; 'chmod 600' it, or keep it on a disk that knows such rights`
  }
  return null
}
