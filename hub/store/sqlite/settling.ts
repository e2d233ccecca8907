import { accounting } from './accounting.ts'
import { PLACED_BY, unpackValues } from './packed-readings.ts'
import { rowOf, rowsOf, transact } from './open-database.ts'
import { markDirty, rollUps } from './roll-up.ts'
import { toStored, valueOf } from './scaled.ts'
import type { ChannelValue } from '../../model/reading.ts'
import type { Database } from './open-database.ts'
import type { DirtyBuckets } from './roll-up.ts'

interface LogRow {
  readonly i: number
  readonly probe: string
  readonly boot: number
  readonly seq: number
  readonly uptime: number
  readonly at: number
  readonly placed_by: number
  readonly arrived_at: number
  readonly device_at: number | null
  readonly flags: number
  readonly vals: Uint8Array
}

interface Kept {
  readonly t: number
  readonly uptime: number
}

/** What one slice moved. */
export interface Slice {
  /** The log is settled up to and including this row. */
  readonly cursor: number
  readonly probes: ReadonlySet<string>
  /** Epoch ms; Infinity and -Infinity when only repetitions came. */
  readonly from: number
  readonly to: number
}

/** Name of the channel that holds the spread of another. */
const SPREAD = '.s'
const BOUNDED = PLACED_BY.indexOf('bounded')

/** What differs between a reading that is kept and one of the same name; null when it is the same again. */
function contradiction(
  kept: Kept,
  before: ReadonlyMap<string, number>,
  row: LogRow,
  values: readonly ChannelValue[],
): string | null {
  if (kept.uptime !== row.uptime) return `uptime ${kept.uptime} s before, ${row.uptime} s now`
  for (const { channel, value } of values) {
    const first = before.get(channel)
    // A batch has no room for spreads: what came in one first may be told with them afterwards.
    if (first === undefined && channel.endsWith(SPREAD)) continue
    if (first === undefined) return `'${channel}' absent before, ${value} now`
    if (first !== value && !(Number.isNaN(first) && Number.isNaN(value))) {
      return `'${channel}' ${first} before, ${value} now`
    }
  }
  return null
}

/**
 * Moves log rows, in log order, into the tables that are read from. The first arrival of a
 * (probe, boot, seq) wins; the same again is counted; other content under the same name goes to
 * quarantine. A repetition may leave channels, flags and the probe's clock out, as a batch does.
 *
 * @returns moves at most `limit` rows in one transaction; null when nothing was left.
 */
export function settling(db: Database): (limit: number) => Slice | null {
  const readLog = db.prepare(
    `SELECT * FROM log WHERE i > (SELECT i FROM cursor WHERE name = 'settled') ORDER BY i LIMIT ?`,
  )
  const moveCursor = db.prepare(`UPDATE cursor SET i = ? WHERE name = 'settled'`)
  const trimLog = db.prepare('DELETE FROM log WHERE i <= (SELECT min(i) FROM cursor)')
  const findProbe = db.prepare('SELECT id FROM probe WHERE name = ?')
  const addProbe = db.prepare('INSERT INTO probe (name) VALUES (?) RETURNING id')
  const findSeries = db.prepare(
    'SELECT id FROM series WHERE probe = ? AND channel = ? AND timed = ?',
  )
  const addSeries = db.prepare(
    'INSERT INTO series (probe, channel, timed) VALUES (?, ?, ?) RETURNING id',
  )
  const addReading = db.prepare(
    'INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING',
  )
  const findReading = db.prepare(
    'SELECT t, uptime FROM reading WHERE probe = ? AND boot = ? AND seq = ?',
  )
  // The first free millisecond after a run of taken ones.
  const findFree = db.prepare(
    `SELECT t + 1 AS t FROM reading AS taken WHERE probe = ?1 AND t >= ?2 AND NOT EXISTS (
       SELECT 1 FROM reading WHERE probe = ?1 AND t = taken.t + 1
     ) ORDER BY t LIMIT 1`,
  )
  const findValues = db.prepare(
    `SELECT channel, ${valueOf('v')} AS value FROM series JOIN r ON r.series = series.id
     WHERE probe = ? AND t = ?`,
  )
  const addValue = db.prepare('INSERT INTO r VALUES (?, ?, ?)')
  const setLatest = db.prepare(
    `INSERT INTO latest VALUES (?, ?, ?)
     ON CONFLICT (series) DO UPDATE SET t = excluded.t, v = excluded.v WHERE excluded.t > latest.t`,
  )
  const addQuarantine = db.prepare(
    `INSERT INTO quarantine (arrived_at, topic, payload, reason, same) VALUES (?, ?, ?, ?, ?)
     ON CONFLICT (same) DO NOTHING`,
  )
  const addTally = db.prepare('UPDATE tally SET n = n + ? WHERE name = ?')
  const rollUp = rollUps(db)
  const accounts = accounting(db)

  // Ids given in a transaction that failed were never stored, so these are emptied then.
  const probeIds = new Map<string, number>()
  const seriesIds = new Map<string, number>()

  const probeId = (name: string): number => {
    let id = probeIds.get(name)
    if (id === undefined) {
      id =
        (rowOf<{ id: number }>(findProbe, name) ?? rowOf<{ id: number }>(addProbe, name))?.id ?? 0
      probeIds.set(name, id)
    }
    return id
  }
  const seriesId = (probe: number, channel: string, timed: 0 | 1): number => {
    const key = `${probe}/${timed}/${channel}`
    let id = seriesIds.get(key)
    if (id === undefined) {
      const where = [probe, channel, timed] as const
      const row = rowOf<{ id: number }>(findSeries, ...where) ?? rowOf(addSeries, ...where)
      id = (row as { id: number }).id
      seriesIds.set(key, id)
    }
    return id
  }

  // Milliseconds of a probe known to be taken without a hole. A probe that sends faster than one reading a
  // millisecond would otherwise be walked over from the start for every reading.
  const taken = new Map<number, { from: number; to: number }>()
  const nextFree = (probe: number, t: number): number => {
    const run = taken.get(probe)
    if (run !== undefined && run.from <= t && t <= run.to) return run.to + 1
    const free = rowOf<{ t: number }>(findFree, probe, t)?.t ?? t + 1
    taken.set(probe, { from: t, to: free - 1 })
    return free
  }

  /** Keeps the reading unless its name is taken; resolves two readings of one millisecond. */
  const keep = (probe: number, row: LogRow): number | Kept => {
    let t = Math.round(row.at)
    for (;;) {
      const added = addReading.run(
        probe,
        row.boot,
        row.seq,
        t,
        t === row.at ? null : row.at,
        row.uptime,
        row.placed_by,
        row.arrived_at,
        row.device_at,
        row.flags,
      )
      if (added.changes === 1) {
        const run = taken.get(probe)
        if (run !== undefined && run.to + 1 === t) run.to = t
        return t
      }
      const kept = rowOf<Kept>(findReading, probe, row.boot, row.seq)
      if (kept !== null) return kept
      t = nextFree(probe, t)
    }
  }

  const slice = (limit: number): Slice | null => {
    const rows = rowsOf<LogRow>(readLog, limit)
    const last = rows.at(-1)
    if (last === undefined) return null

    const dirty: DirtyBuckets = new Map()
    let pending: { series: number; t: number; value: number; timed: 0 | 1 }[] = []
    // Sorted, so that neighbours on the disk are written together.
    const write = (): void => {
      pending.sort((a, b) => a.series - b.series || a.t - b.t)
      pending.forEach(({ series, t, value, timed }, i) => {
        const v = toStored(value)
        addValue.run(series, t, v)
        if (timed === 0) return
        markDirty(dirty, series, t)
        if (pending[i + 1]?.series !== series) setLatest.run(series, t, v)
      })
      pending = []
    }

    const probes = new Set<string>()
    const tally = { readings: 0, duplicates: 0, quarantined: 0 }
    const account = accounts.open()
    let from = Infinity
    let to = -Infinity
    for (const row of rows) {
      const probe = probeId(row.probe)
      const values = unpackValues(row.vals)
      const kept = keep(probe, row)
      if (typeof kept === 'number') {
        const timed = row.placed_by === BOUNDED ? 0 : 1
        for (const { channel, value } of values) {
          pending.push({ series: seriesId(probe, channel, timed), t: kept, value, timed })
        }
        tally.readings++
        account.received(row)
        probes.add(row.probe)
        from = Math.min(from, kept)
        to = Math.max(to, kept)
        continue
      }
      write()
      const before = new Map(
        rowsOf<{ channel: string; value: number | null }>(findValues, probe, kept.t).map((v) => [
          v.channel,
          v.value ?? NaN,
        ]),
      )
      const differs = contradiction(kept, before, row, values)
      if (differs !== null) {
        const name = `${row.probe}/${row.boot}/${row.seq}`
        const content = [row.uptime, values.map((v) => [v.channel, v.value])]
        const put = addQuarantine.run(
          row.arrived_at,
          name,
          Buffer.from(asText(row, values)),
          `Reading ${row.seq} of boot ${row.boot} of probe ${row.probe} came again with other content ` +
            `(${differs}). The first is kept. A probe must take a new boot id whenever it loses count ` +
            'of its readings.',
          `${name} ${JSON.stringify(content)}`,
        )
        if (put.changes === 1) {
          tally.quarantined++
          account.conflicting(row)
          continue
        }
      }
      tally.duplicates++
      account.repeated(row)
    }
    write()
    rollUp(dirty)
    for (const [name, n] of Object.entries(tally)) if (n > 0) addTally.run(n, name)
    account.close()
    moveCursor.run(last.i)
    trimLog.run()
    return { cursor: last.i, probes, from, to }
  }

  return (limit) => {
    // Pruning between two runs may free what was taken.
    taken.clear()
    try {
      return transact(db, () => slice(limit))
    } catch (error) {
      probeIds.clear()
      seriesIds.clear()
      taken.clear()
      throw error
    }
  }
}

/** A contradicting reading as JSON, with everything that was known of it. */
function asText(row: LogRow, values: readonly ChannelValue[]): string {
  return JSON.stringify({
    probe: row.probe,
    boot: row.boot,
    seq: row.seq,
    uptimeS: row.uptime,
    at: row.at,
    placedBy: PLACED_BY[row.placed_by],
    arrivedAt: row.arrived_at,
    deviceAt: row.device_at,
    flags: row.flags,
    values: Object.fromEntries(values.map((v) => [v.channel, v.value])),
  })
}
