import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { readingStoreContract } from './reading-store.ts'

// Every store starts two threads, and half of what that takes is making JavaScript of their TypeScript.
// The folder is the one Node takes by itself.
process.env['NODE_COMPILE_CACHE'] ??= join(tmpdir(), 'node-compile-cache')

const fail = (error: Error): never => {
  throw error
}

readingStoreContract('readings in SQLite', (folder) =>
  openReadingStore(join(folder, 'readings.db'), { onDeath: fail, onTrouble: fail }),
)
