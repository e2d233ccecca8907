import type { Credential } from '../../model/credential.ts'
import { rowsOf } from './open-database.ts'
import type { Database } from './open-database.ts'

/** Hashes of probes' passwords. */
export function gardenCredentials(db: Database) {
  const all = db.prepare(
    'SELECT probe, set_at AS setAt, hash, broker_hash AS brokerHash FROM credential ORDER BY probe',
  )
  const set = db.prepare(
    `INSERT INTO credential (probe, set_at, hash, broker_hash) VALUES (?, ?, ?, ?)
     ON CONFLICT DO UPDATE SET set_at = excluded.set_at, hash = excluded.hash,
       broker_hash = excluded.broker_hash`,
  )
  return {
    credentials: (): Credential[] => rowsOf<Credential>(all),
    setCredential: (c: Credential): void => {
      set.run(c.probe, c.setAt, c.hash, c.brokerHash)
    },
  }
}
