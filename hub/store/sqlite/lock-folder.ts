import { join } from 'node:path'
import { HubError } from '../../errors.ts'
import { storeError } from './fault.ts'
import { Engine } from './open-database.ts'
import { keepTempFilesIn } from './temp-files.ts'

/**
 * Holds a folder for this process. The lock is an exclusive transaction on a file in it, so that the
 * kernel lets go of it when the process ends, however it ends. What the engine needs for a while lies in it too.
 *
 * @returns lets go; again is no harm.
 */
export function lockFolder(folder: string): () => void {
  const file = join(folder, 'hub.lock')
  keepTempFilesIn(folder)
  try {
    const db = new Engine(file, { timeout: 0 })
    try {
      db.exec('BEGIN EXCLUSIVE')
    } catch (error) {
      db.close()
      throw error
    }
    return () => {
      if (db.isOpen) db.close()
    }
  } catch (error) {
    const { errcode } = error as { errcode?: number }
    const busy = errcode !== undefined && (errcode & 0xff) === 5
    if (!busy) throw storeError(error, file)
    throw new HubError(
      'HUB_STORE_LOCKED',
      `Another hub is running on the data folder ${folder}. Stop it, or give this one a folder of its ` +
        'own with LOAMLINE_DATA_DIR.',
      { retry: false, cause: error },
    )
  }
}
