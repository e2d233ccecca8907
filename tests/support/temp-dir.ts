import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

/** A new empty folder; `using` removes it with all its content at the end of the block. */
export function tempDir(): { readonly path: string; [Symbol.dispose](): void } {
  const path = mkdtempSync(join(tmpdir(), 'loamline-'))
  return { path, [Symbol.dispose]: () => rmSync(path, { recursive: true, force: true }) }
}
