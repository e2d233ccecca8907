import { migrate } from './migrate.ts'
import { sealHours } from './seal-hours.ts'
import { packIntoBlocks } from './to-blocks.ts'
import type { Database } from './open-database.ts'

/** Brings a file of readings to the newest layout. */
export const migrateReadings = (db: Database, file: string): void =>
  migrate(db, new URL('../migrations/readings/', import.meta.url), file, {
    3: packIntoBlocks,
    7: sealHours,
  })
