import { readFileSync } from 'node:fs'
import { join } from 'node:path'

/** The hub's own version. */
export function version(): string {
  const file = JSON.parse(
    readFileSync(join(import.meta.dirname, '..', '..', 'package.json'), 'utf8'),
  ) as { version: string }
  return file.version
}
