import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { expect, test } from 'vitest'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { storedReadings } from '#tests/support/stored-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const AT = 1_750_000_000_000
const DAY = 86_400_000
const fail = (error: Error): never => {
  throw error
}
const watch = { onDeath: fail, onTrouble: fail }

/** A readings.db as a hub of an earlier layout left it. */
function writeOld(folder: string, layout: 1 | 2, fill: string): void {
  const db = new DatabaseSync(join(folder, 'readings.db'))
  for (const name of ['001-readings.sql', '002-accounts.sql'].slice(0, layout)) {
    db.exec(readFileSync(`hub/store/migrations/readings/${name}`, 'utf8'))
  }
  db.exec(fill)
  db.exec(`PRAGMA user_version = ${layout}`)
  db.close()
}

/** Two probes; one number each time, one failure, one value that is no whole ten-thousandth, one bounded reading. */
const FILL = `
  INSERT INTO probe VALUES (1, 'row1'), (2, 'row2');
  INSERT INTO series VALUES (1, 1, 'e1', 1), (2, 1, 't1', 1), (3, 1, 'e1', 0), (4, 2, 'm1', 1);
  INSERT INTO reading VALUES
    (1, 1, 0, ${AT}, NULL, 3, 0, ${AT}, ${AT - 7}, 5),
    (1, 1, 3, ${AT + 1}, ${AT}, 603.5, 2, ${AT + 9}, NULL, 0),
    (1, 1, 4, ${AT + DAY}, NULL, 9, 3, ${AT + DAY + 5}, NULL, 0),
    (2, 7, 0, ${AT + 60_000}, NULL, 3, 1, ${AT + 60_020}, ${AT + 60_000}, 0);
  INSERT INTO r VALUES (1, ${AT}, -415000), (2, ${AT}, NULL), (1, ${AT + 1}, 0.12345),
    (3, ${AT + DAY}, 20000), (4, ${AT + 60_000}, 18005000);
  INSERT INTO latest VALUES (1, ${AT + 1}, 0.12345), (2, ${AT}, NULL), (4, ${AT + 60_000}, 18005000);
  INSERT INTO daily VALUES (1, ${Math.floor(AT / DAY) * DAY}, 2, -41.5, -20.688, 0.12345, -20.688);
  UPDATE tally SET n = 4 WHERE name = 'readings';
  INSERT INTO mark (probe, boot, top, lost, last_at) VALUES ('row1', 1, 0, 0, ${AT});
  INSERT INTO log (i, probe, boot, seq, uptime, at, placed_by, arrived_at, flags, vals)
    VALUES (41, 'row1', 1, 0, 3, ${AT}, 0, ${AT}, 0, x''),
      (42, 'row1', 1, 6, 9, ${AT + 30}, 0, ${AT + 30}, 0, x'0265310000000000000440');
  UPDATE cursor SET i = 41 WHERE name = 'settled';
`

test.each([1, 2] as const)(
  'readings of layout %i are packed whole, what had not settled too',
  async (layout) => {
    using folder = tempDir()
    writeOld(folder.path, layout, FILL)
    const store = await openReadingStore(join(folder.path, 'readings.db'), watch)
    await store.settle()
    const query = { from: 0, to: 8.64e15, step: 'raw' } as const
    const [e1, t1, hours] = await store.buckets([
      { probe: 'row1', channel: 'e1', ...query },
      { probe: 'row1', channel: 't1', ...query },
      { probe: 'row1', channel: 'e1', ...query, step: 'hour' },
    ])
    expect([[...e1!.time], [...e1!.mean]]).toEqual([
      [AT, AT + 1, AT + 30],
      [-41.5, 0.12345, 2.5],
    ])
    expect([...t1!.mean]).toEqual([NaN])
    expect([...hours!.count]).toEqual([3])
    expect(await store.latest('row2')).toEqual([
      { probe: 'row2', channel: 'm1', at: AT + 60_000, value: 1800.5 },
    ])
    expect((await store.counts()).readings).toBe(5)
    const { mark, ahead } = await store.recall('row1', 1)
    expect({ top: mark?.top, ahead }).toEqual({ top: 0, ahead: [3, 4, 6] })
    // Known names stay known: the same again is a repetition, other content a contradiction.
    await store.append(
      batchOf({
        readings: [
          sampleReading({ seq: 0, at: AT, values: { e1: -41.5 } }),
          sampleReading({ seq: 0, at: AT, values: { e1: 5 } }),
        ],
      }),
    )
    await store.settle()
    expect(await store.counts()).toMatchObject({
      readings: 5,
      duplicates: 1,
      quarantined: 1,
    })
    await store.close()
    const rows = storedReadings(join(folder.path, 'readings.db'))
    expect(rows[0]).toMatchObject({ deviceAt: AT - 7, flags: 5, arrivedAt: AT })
    expect(rows.find(({ seq, probe }) => probe === 'row1' && seq === 4)).toMatchObject({
      placedBy: 3,
      values: { e1: 2 },
    })
    const db = new DatabaseSync(join(folder.path, 'readings.db'), { readOnly: true })
    const tables = db.prepare(`SELECT name FROM sqlite_schema WHERE name GLOB 'old_*'`).all()
    const ids = db.prepare(`SELECT seq FROM sqlite_sequence WHERE name = 'log'`).get()
    db.close()
    expect(tables).toEqual([])
    // Numbers of the log go on where they were.
    expect(ids).toEqual({ seq: 43 })
  },
)

test('readings of the first layout are accounted for, the unsettled ones too', async () => {
  using folder = tempDir()
  writeOld(
    folder.path,
    1,
    `INSERT INTO probe VALUES (1, 'row1');
     INSERT INTO reading VALUES
       (1, 1, 0, ${AT}, NULL, 3, 0, ${AT}, NULL, 0),
       (1, 1, 3, ${AT + 1}, ${AT}, 1803, 2, ${AT + 9}, NULL, 0);
     INSERT INTO quarantine (arrived_at, topic, payload, reason, same)
       VALUES (${AT}, 'row1/1/0', x'', 'other content', 'row1/1/0 x');
     INSERT INTO mark VALUES ('row1', 1, 0, 0, ${AT});
     UPDATE tally SET n = 2 WHERE name = 'readings';
     INSERT INTO log (probe, boot, seq, uptime, at, placed_by, arrived_at, flags, vals)
       VALUES ('row1', 1, 6, 9, ${AT}, 0, ${AT}, 0, x'')`,
  )
  const store = await openReadingStore(join(folder.path, 'readings.db'), watch)
  try {
    const [account] = await store.accounts('row1')
    expect(account).toMatchObject({
      received: 3,
      // 1, 2, 4 and 5.
      missing: 4,
      conflicting: 1,
      late: 1,
      lost: 0,
      placed: { arrival: 2, device: 0, anchors: 1, bounded: 0, file: 0 },
    })
    const { mark } = await store.recall('row1', 1)
    expect(mark).toMatchObject({ top: 0, highest: 6, missing: 4 })
  } finally {
    await store.close()
  }
})
