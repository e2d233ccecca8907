import { DAY } from '../../model/clock.ts'
import { emptyBlock, encodeBlock, insertRow, spansOf } from './block.ts'
import { rowOf, rowsOf } from './open-database.ts'
import { packIntake } from './packed-intake.ts'
import { PLACED_BY } from './placed-by.ts'
import { startOf } from './roll-up.ts'
import { valueOf } from './scaled.ts'
import type { BlockRow } from './block.ts'
import type { ChannelValue } from '../../model/reading.ts'
import type { Database } from './open-database.ts'

interface OldReading {
  readonly boot: number
  readonly seq: number
  readonly t: number
  readonly at: number | null
  readonly uptime: number
  readonly placed_by: number
  readonly arrived_at: number
  readonly device_at: number | null
  readonly flags: number
}
interface OldLogRow extends Omit<OldReading, 't' | 'at'> {
  readonly i: number
  readonly probe: string
  readonly at: number
  readonly vals: Uint8Array
}

/** Log rows packed into one. */
const LOG_ROWS = 1000

/** Second half of migration 003: packs the tables of one row for each reading and value into blocks. */
export function packIntoBlocks(db: Database): void {
  packLog(db)
  packReadings(db)
  db.exec('DROP TABLE old_log; DROP TABLE old_r; DROP TABLE old_reading')
}

function packLog(db: Database): void {
  const read = db.prepare(
    `SELECT * FROM old_log WHERE i > ?
     AND i > (SELECT i FROM cursor WHERE name = 'settled') ORDER BY i LIMIT ${LOG_ROWS}`,
  )
  const add = db.prepare('INSERT INTO log (i, readings, body) VALUES (?, ?, ?)')
  let last = 0
  for (;;) {
    const rows = rowsOf<OldLogRow>(read, last)
    if (rows.length === 0) break
    last = rows.at(-1)!.i
    const readings = rows.map((row) => ({
      probe: row.probe,
      boot: row.boot,
      seq: row.seq,
      uptimeS: row.uptime,
      at: row.at,
      placedBy: PLACED_BY[row.placed_by]!,
      arrivedAt: row.arrived_at,
      deviceAt: row.device_at,
      flags: row.flags,
      values: oldValues(row.vals),
    }))
    add.run(last, readings.length, packIntake(readings, []))
  }
  // A row number is never given twice, also when the old log was empty.
  const top = rowOf<{ seq: number }>(
    db.prepare(`SELECT seq FROM sqlite_sequence WHERE name = 'old_log'`),
  )?.seq
  if (top === undefined) return
  db.prepare(`DELETE FROM sqlite_sequence WHERE name = 'log'`).run()
  db.prepare(`INSERT INTO sqlite_sequence VALUES ('log', ?)`).run(top)
}

function packReadings(db: Database): void {
  const findProbes = db.prepare('SELECT id FROM probe ORDER BY id')
  const findNext = db.prepare('SELECT min(t) AS t FROM old_reading WHERE probe = ? AND t >= ?')
  const findReadings = db.prepare(
    'SELECT * FROM old_reading WHERE probe = ? AND t >= ? AND t < ? ORDER BY t',
  )
  const findSeries = db.prepare('SELECT id, channel FROM series WHERE probe = ?')
  const findValues = db.prepare(
    `SELECT t, ${valueOf('v')} AS value FROM old_r WHERE series = ? AND t >= ? AND t < ?`,
  )
  const addBlock = db.prepare(
    'INSERT INTO block (probe, start, n, body) VALUES (?, ?, ?, ?) RETURNING id',
  )
  const addSpan = db.prepare('INSERT INTO span VALUES (?, ?, ?, ?, ?)')

  for (const { id: probe } of rowsOf<{ id: number }>(findProbes)) {
    const series = rowsOf<{ id: number; channel: string }>(findSeries, probe)
    for (let day = -Infinity; ;) {
      const next = rowOf<{ t: number | null }>(findNext, probe, Math.max(day, -8.64e15))?.t ?? null
      if (next === null) break
      day = startOf(next, DAY)
      const values = new Map<number, (readonly [string, number])[]>()
      for (const { id, channel } of series) {
        for (const row of rowsOf<{ t: number; value: number | null }>(
          findValues,
          id,
          day,
          day + DAY,
        )) {
          let held = values.get(row.t)
          if (held === undefined) values.set(row.t, (held = []))
          held.push([channel, row.value ?? NaN])
        }
      }
      const block = emptyBlock()
      for (const row of rowsOf<OldReading>(findReadings, probe, day, day + DAY)) {
        const held = values.get(row.t) ?? []
        insertRow(
          block,
          asBlockRow(row),
          held.map(([channel]) => channel),
          held.map(([, value]) => value),
        )
      }
      const id =
        rowOf<{ id: number }>(addBlock, probe, day, block.t.length, encodeBlock(block))?.id ?? 0
      for (const [boot, { low, high }] of spansOf(block)) addSpan.run(probe, boot, id, low, high)
      day += DAY
    }
  }
  // Series of readings whose time is only bounded are in the blocks of their probe.
  db.exec('DELETE FROM series WHERE timed = 0')
}

function asBlockRow(row: OldReading): BlockRow {
  return {
    t: row.t,
    at: row.at ?? row.t,
    boot: row.boot,
    seq: row.seq,
    uptime: row.uptime,
    placedBy: row.placed_by,
    arrivedAt: row.arrived_at,
    deviceAt: row.device_at ?? NaN,
    flags: row.flags,
  }
}

/** Per value: length of the channel name, the name in UTF-8, the value as a little-endian double. */
function oldValues(bytes: Uint8Array): ChannelValue[] {
  const text = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  const values: ChannelValue[] = []
  for (let at = 0; at < text.length;) {
    const length = text[at] ?? 0
    const name = at + 1
    values.push({
      channel: text.toString('utf8', name, name + length),
      value: text.readDoubleLE(name + length),
    })
    at = name + length + 8
  }
  return values
}
