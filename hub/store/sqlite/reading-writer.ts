import { HubError } from '../../errors.ts'
import { storeError, toFault } from './fault.ts'
import { migrate } from './migrate.ts'
import { openDatabase, rowOf, rowsOf, transact } from './open-database.ts'
import { PLACED_BY, unpackReadings } from './packed-readings.ts'
import { pruning } from './pruning.ts'
import { rebuilding, type SeriesSpan } from './rebuilding.ts'
import { serve } from './serve.ts'
import { settleSchedule } from './settle-schedule.ts'
import { settling } from './settling.ts'
import type { Anchor, BootMark, Quarantined } from '../../model/reading.ts'
import type { BootMemory, Settled } from '../reading-store.ts'
import type { Fault } from './fault.ts'
import type { PackedReadings } from './packed-readings.ts'

/** An intake batch on its way to this thread. */
export interface PackedBatch {
  readonly readings: PackedReadings
  readonly anchors: readonly Anchor[]
  readonly marks: readonly BootMark[]
  readonly quarantined: readonly Quarantined[]
}

/** What this thread tells without being asked. */
export type WriterEvent =
  | { readonly kind: 'settled'; readonly settled: Settled }
  | { readonly kind: 'trouble'; readonly fault: Fault }

const ARRIVAL = PLACED_BY.indexOf('arrival')
/** Readings of a boot, from its newest back, among which a live one is looked for. */
const NEWEST_LOOKED_AT = 1000
/** Rows in one piece of work: what an append may have to wait for. */
const SLICE = 2000

function openWriter(file: string, emit: (event: WriterEvent) => void) {
  const db = openDatabase(file, { cacheKiB: 65_536 })
  migrate(db, new URL('../migrations/readings/', import.meta.url), file)

  const addLog = db.prepare(
    `INSERT INTO log (probe, boot, seq, uptime, at, placed_by, arrived_at, device_at, flags, vals)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  )
  // Of two arrivals in the same second of uptime the earlier was on its way for less time.
  const addAnchor = db.prepare(
    `INSERT INTO anchor VALUES (?, ?, ?, ?)
     ON CONFLICT DO UPDATE SET at = min(at, excluded.at)`,
  )
  const setMark = db.prepare(
    `INSERT OR REPLACE INTO mark (probe, boot, top, lost, last_at, missing, highest)
     VALUES (?, ?, ?, ?, ?, ?, ?)`,
  )
  const addQuarantine = db.prepare(
    'INSERT INTO quarantine (arrived_at, topic, payload, reason) VALUES (?, ?, ?, ?)',
  )
  const addTally = db.prepare('UPDATE tally SET n = n + ? WHERE name = ?')
  const findSettled = db.prepare(`SELECT i FROM cursor WHERE name = 'settled'`)
  const findLast = db.prepare('SELECT max(i) AS i FROM log')
  const findMark = db.prepare(
    `SELECT probe, boot, top, lost, missing, highest, last_at AS lastAt FROM mark
     WHERE probe = ? AND boot = ?`,
  )
  const findAnchors = db.prepare(
    `SELECT probe, boot, uptime AS uptimeS, at FROM anchor WHERE probe = ? AND boot = ?
     ORDER BY uptime`,
  )
  const findAhead = db.prepare(
    `SELECT seq FROM reading WHERE probe = (SELECT id FROM probe WHERE name = ?1)
       AND boot = ?2 AND seq > ?3
     UNION
     SELECT seq FROM log WHERE i > (SELECT i FROM cursor WHERE name = 'settled')
       AND probe = ?1 AND boot = ?2 AND seq > ?3
     ORDER BY seq`,
  )
  // The probe sends in order, so the newest live reading stands near the end of its boot.
  const findNewest = db.prepare(
    `SELECT uptime AS uptimeS, at FROM (
       SELECT * FROM (
         SELECT uptime, arrived_at AS at, placed_by FROM reading
         WHERE probe = (SELECT id FROM probe WHERE name = ?1) AND boot = ?2
         ORDER BY seq DESC LIMIT ${NEWEST_LOOKED_AT}
       )
       UNION ALL
       SELECT uptime, arrived_at, placed_by FROM log
       WHERE i > (SELECT i FROM cursor WHERE name = 'settled') AND probe = ?1 AND boot = ?2
     ) WHERE placed_by = ${ARRIVAL} ORDER BY uptime DESC, at LIMIT 1`,
  )
  const settleSlice = settling(db)
  const pruneSlice = pruning(db)
  const rebuild = rebuilding(db)

  const touched = { probes: new Set<string>(), from: Infinity, to: -Infinity }
  const settled = rowOf<{ i: number }>(findSettled)?.i ?? 0
  const schedule = settleSchedule({
    settled,
    slice() {
      const slice = settleSlice(SLICE)
      if (slice === null) return null
      for (const probe of slice.probes) touched.probes.add(probe)
      touched.from = Math.min(touched.from, slice.from)
      touched.to = Math.max(touched.to, slice.to)
      return slice.cursor
    },
    done() {
      if (touched.probes.size === 0) return
      const { from, to } = touched
      emit({ kind: 'settled', settled: { probes: [...touched.probes], from, to } })
      touched.probes.clear()
      touched.from = Infinity
      touched.to = -Infinity
    },
    trouble(error) {
      const known = storeError(error, file)
      if (!(known instanceof HubError)) throw known
      emit({ kind: 'trouble', fault: toFault(known) })
    },
  })
  schedule.grew(rowOf<{ i: number | null }>(findLast)?.i ?? 0)

  return {
    append(batch: PackedBatch): void {
      const last = transact(db, () => {
        let row: number | bigint = 0
        for (const r of unpackReadings(batch.readings)) {
          row = addLog.run(
            r.probe,
            r.boot,
            r.seq,
            r.uptime,
            r.at,
            r.placedBy,
            r.arrivedAt,
            r.deviceAt,
            r.flags,
            r.vals,
          ).lastInsertRowid
        }
        for (const a of batch.anchors) addAnchor.run(a.probe, a.boot, a.uptimeS, a.at)
        for (const m of batch.marks) {
          setMark.run(m.probe, m.boot, m.top, m.lost, m.lastAt, m.missing, m.highest)
        }
        for (const q of batch.quarantined) {
          addQuarantine.run(q.arrivedAt, q.topic, q.payload, q.reason)
        }
        if (batch.quarantined.length > 0) addTally.run(batch.quarantined.length, 'quarantined')
        return Number(row)
      })
      schedule.grew(last)
    },
    settle: (): Promise<void> => schedule.settle(),
    recall(probe: string, boot: number): BootMemory {
      const mark = rowOf<BootMark>(findMark, probe, boot)
      const ahead = rowsOf<{ seq: number }>(findAhead, probe, boot, mark?.top ?? -1)
      return {
        mark,
        ahead: ahead.map(({ seq }) => seq),
        anchors: rowsOf<Anchor>(findAnchors, probe, boot),
        newest: rowOf<{ uptimeS: number; at: number }>(findNewest, probe, boot),
      }
    },
    prune: (before: number): number => pruneSlice(before, SLICE),
    spans: (): SeriesSpan[] => rebuild.spans(),
    trimSpan: (span: SeriesSpan): void => rebuild.trim(span),
    rebuildDays: (stretch: SeriesSpan): void => rebuild.days(stretch),
    async close(): Promise<void> {
      await schedule.stop()
      db.close()
    },
  }
}

export type WriterApi = ReturnType<typeof openWriter>

serve<{ readonly file: string }>(({ file }, emit) => openWriter(file, emit))
