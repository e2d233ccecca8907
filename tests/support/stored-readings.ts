import { DatabaseSync } from 'node:sqlite'
import { decodeBlock } from '#hub/store/sqlite/block.ts'
import { ABSENT } from '#hub/store/sqlite/value-column.ts'

/** A reading as it lies on the disk. */
export interface StoredReading {
  readonly probe: string
  readonly boot: number
  readonly seq: number
  readonly t: number
  readonly at: number
  readonly uptime: number
  /** Position in PLACED_BY. */
  readonly placedBy: number
  readonly arrivedAt: number
  readonly deviceAt: number
  readonly flags: number
  readonly values: Readonly<Record<string, number>>
}

/** Everything that is settled in a readings.db, past the store; probe by probe, ascending in time. */
export function storedReadings(file: string): StoredReading[] {
  const db = new DatabaseSync(file, { readOnly: true })
  try {
    const rows = db
      .prepare(
        'SELECT name, body FROM block JOIN probe ON probe.id = block.probe ORDER BY name, start',
      )
      .all() as unknown as { name: string; body: Uint8Array }[]
    return rows.flatMap(({ name, body }) => {
      const block = decodeBlock(body)
      return block.t.map((t, i) => ({
        probe: name,
        boot: block.boot[i]!,
        seq: block.seq[i]!,
        t,
        at: block.at[i]!,
        uptime: block.uptime[i]!,
        placedBy: block.placedBy[i]!,
        arrivedAt: block.arrivedAt[i]!,
        deviceAt: block.deviceAt[i]!,
        flags: block.flags[i]!,
        values: Object.fromEntries(
          [...block.values]
            .map(([channel, column]) => [channel, column[i]!] as const)
            .filter(([, value]) => value !== ABSENT),
        ),
      }))
    })
  } finally {
    db.close()
  }
}
