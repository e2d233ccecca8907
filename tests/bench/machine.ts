import { closeSync, fsyncSync, openSync, statfsSync, writeSync } from 'node:fs'
import { cpus, loadavg, release, totalmem } from 'node:os'
import { join } from 'node:path'
import { tempDir } from '../support/temp-dir.ts'
import { middle } from './kit.ts'

const FORCED = 50
const PAGE = Buffer.alloc(4096, 1)

/** Milliseconds until one written page is on the disk: what every commit has to wait for. */
function forcedWrite(): number {
  using dir = tempDir()
  const file = openSync(join(dir.path, 'page'), 'w')
  try {
    return middle(
      Array.from({ length: FORCED }, () => {
        const begun = performance.now()
        writeSync(file, PAGE, 0, PAGE.length, 0)
        fsyncSync(file)
        return performance.now() - begun
      }),
    )
  } finally {
    closeSync(file)
  }
}

/** What the figures were measured on, a line each. */
export function thisMachine(): readonly string[] {
  using dir = tempDir()
  const { model } = cpus()[0] ?? { model: 'unknown' }
  const { type } = statfsSync(dir.path)
  return [
    `Processor: ${cpus().length} x ${model.trim()}, ${(totalmem() / 2 ** 30).toFixed(1)} GiB of memory`,
    `System: ${process.platform} ${release()} ${process.arch}, Node ${process.versions.node}, SQLite ${process.versions['sqlite'] ?? 'unknown'}`,
    `Load when it began: ${(loadavg()[0] ?? NaN).toFixed(1)}; with more than one runnable process a core, times say more of the others than of this`,
    `Disk: a page written and forced in ${forcedWrite().toFixed(2)} ms (file system 0x${type.toString(16)})`,
  ]
}
