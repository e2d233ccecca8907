import { join } from 'node:path'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { readingStoreContract } from './reading-store.ts'

const fail = (error: Error): never => {
  throw error
}

readingStoreContract('readings in SQLite', (folder) =>
  openReadingStore(join(folder, 'readings.db'), { onDeath: fail, onTrouble: fail }),
)
