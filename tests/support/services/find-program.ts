import { existsSync } from 'node:fs'
import { join } from 'node:path'

const FURTHER = ['/usr/sbin', '/usr/local/sbin', '/opt/homebrew/sbin', '/opt/homebrew/bin']

/** Where a program lies, also in folders for programs of the system, or null. */
export function findProgram(name: string): string | null {
  const folders = [...(process.env['PATH'] ?? '').split(':').filter((f) => f !== ''), ...FURTHER]
  return folders.map((f) => join(f, name)).find((path) => existsSync(path)) ?? null
}
