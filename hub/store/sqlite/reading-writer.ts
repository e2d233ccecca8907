import { HubError } from '../../errors.ts'
import { displaced } from '../influx/displaced.ts'
import { undelivered } from '../influx/undelivered.ts'
import { decodeBlock } from './block.ts'
import { damageWriter } from './damage-writer.ts'
import { storeError, toFault } from './fault.ts'
import { migrateReadings } from './migrate-readings.ts'
import { openDatabase, rowOf, rowsOf, transact } from './open-database.ts'
import { PLACED_BY } from './placed-by.ts'
import { pruning } from './pruning.ts'
import { quarantine } from './quarantine.ts'
import { rebuilding, type ProbeSpan } from './rebuilding.ts'
import { serve } from './serve.ts'
import { settingApart } from './set-apart.ts'
import { settleSchedule } from './settle-schedule.ts'
import { settling } from './settling.ts'
import { shrinking } from './shrinking.ts'
import { thinning, type ProbeDays } from './thinning.ts'
import { later, unsettled } from './unsettled.ts'
import type { Anchor, BootMark } from '../../model/reading.ts'
import type { Displaced } from '../influx/displaced.ts'
import type { BootMemory, Settled } from '../reading-store.ts'
import type { KeptReading } from './kept-reading.ts'
import type { Fault } from './fault.ts'
import type { PackedBatch } from './packed-intake.ts'

/** What this thread tells without being asked. */
export type WriterEvent =
  | { readonly kind: 'settled'; readonly settled: Settled }
  | { readonly kind: 'trouble'; readonly fault: Fault }
  | { readonly kind: 'damage'; readonly fault: Fault }

interface BlockBody {
  readonly id: number
  readonly body: Uint8Array
}

const ARRIVAL = PLACED_BY.indexOf('arrival')
/** Blocks of a boot, from its newest back, in which a live reading is looked for. */
const BLOCKS_LOOKED_AT = 20

export interface WriterData {
  readonly file: string
  /**
   * Whether every reading that is kept also waits to be sent to an InfluxDB; false ends what was between the two.
   * @default what was said last
   */
  readonly forward?: boolean | undefined
  /** Nothing is settled before `release`: first it has to be known what is in that InfluxDB. @default false */
  readonly held?: boolean
}

/** Of two marks of one boot the one that says more. */
function farther(stored: BootMark | null, logged: BootMark | null): BootMark | null {
  if (stored === null || logged === null) return stored ?? logged
  return stored.top > logged.top ? stored : logged
}

function openWriter(data: WriterData, emit: (event: WriterEvent) => void) {
  const { file, held = false } = data

  const db = openDatabase(file, { cacheKiB: 24_576 })
  migrateReadings(db, file)

  const addLog = db.prepare('INSERT INTO log (readings, body) VALUES (?, ?)')
  // Of two arrivals in the same second of uptime the earlier was on its way for less time.
  const addAnchor = db.prepare(
    `INSERT INTO anchor VALUES (?, ?, ?, ?)
     ON CONFLICT DO UPDATE SET at = min(at, excluded.at)`,
  )
  const setMark = db.prepare(
    `INSERT OR REPLACE INTO mark (probe, boot, top, lost, last_at, missing, highest)
     VALUES (?, ?, ?, ?, ?, ?, ?)`,
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
    `SELECT id, body FROM span JOIN block ON block.id = span.block
     WHERE span.probe = (SELECT id FROM probe WHERE name = ?1) AND boot = ?2 AND high > ?3`,
  )
  // The probe sends in order, so its newest live reading is among its highest numbers.
  const findHighest = db.prepare(
    `SELECT id, body FROM span JOIN block ON block.id = span.block
     WHERE span.probe = (SELECT id FROM probe WHERE name = ?1) AND boot = ?2 ORDER BY high DESC
     LIMIT ${BLOCKS_LOOKED_AT}`,
  )
  const aside = quarantine(db)
  const outgoing = undelivered(db)
  if (data.forward === false) outgoing.part()
  const forward = data.forward ?? outgoing.handlers.folderMemory().folder !== null
  const settle = settling(db, { onKept: forward ? outgoing.keep : undefined })
  const findDisplaced = displaced(db, { learn: settle.learn, keep: outgoing.keep })
  const pruneSlice = pruning(db, settle.forget)
  const waiting = unsettled(db)
  const rebuild = rebuilding(db)
  const thinner = thinning(db, settle.forget)
  const shrinker = shrinking(db)
  const undamaged = settingApart(db, {
    changed: settle.forget,
    tell({ what, why }) {
      const message =
        `${file}: ${what} are damaged (${why}). They were put aside as they are, in the table 'damaged' of that ` +
        'file, and everything else goes on; what their probe still holds is stored when it sends it again. What a ' +
        'backup has of them comes back with: npm run loamline -- damaged, or on the page Settings, Storage.'
      const error = new HubError('HUB_STORE_UNAVAILABLE', message, { retry: false })
      emit({ kind: 'damage', fault: toFault(error) })
    },
  })

  const touched = { probes: new Set<string>(), from: Infinity, to: -Infinity }
  const settled = rowOf<{ i: number }>(findSettled)?.i ?? 0
  const schedule = settleSchedule({
    settled,
    held,
    slice() {
      const slice = undamaged(settle.slice)
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
  const damage = damageWriter(db, {
    settle,
    undamaged,
    settled: (settled) => emit({ kind: 'settled', settled }),
    logged(row, readings) {
      schedule.grew(row, readings)
    },
  })
  const grew = (): void => schedule.grew(rowOf<{ i: number | null }>(findLast)?.i ?? 0)
  grew()

  /** Uptime and arrival of the newest reading placed by its arrival. */
  function newestLive(probe: string, boot: number): BootMemory['newest'] {
    for (const { id, body } of findHighest.iterate(probe, boot) as Iterable<BlockBody>) {
      const block = decodeBlock(body, id)
      let newest: BootMemory['newest'] = null
      block.uptime.forEach((uptimeS, i) => {
        if (block.boot[i] !== boot || block.placedBy[i] !== ARRIVAL) return
        const at = block.arrivedAt[i]!
        const later = newest === null || uptimeS > newest.uptimeS
        if (later || (uptimeS === newest?.uptimeS && at < newest.at)) newest = { uptimeS, at }
      })
      if (newest !== null) return newest
    }
    return null
  }

  return {
    append(batch: PackedBatch): void {
      const last = transact(db, () => {
        const row =
          batch.intake.length === 0 ? 0 : addLog.run(batch.readings, batch.intake).lastInsertRowid
        // What is written off is counted at once; everything else of a mark may wait for settling.
        for (const m of batch.lossy) {
          setMark.run(m.probe, m.boot, m.top, m.lost, m.lastAt, m.missing, m.highest)
        }
        for (const a of batch.anchors) addAnchor.run(a.probe, a.boot, a.uptimeS, a.at)
        for (const message of batch.quarantined) aside.add(message)
        if (batch.quarantined.length > 0) {
          addTally.run(batch.quarantined.length, 'quarantined')
          aside.trim()
        }
        return Number(row)
      })
      schedule.grew(last, batch.readings)
    },
    settle: (): Promise<void> => schedule.settle(),
    hold: (): void => schedule.hold(),
    release(): void {
      waiting.forget()
      schedule.release()
    },
    learn: (probe: string, readings: readonly KeptReading[]): number =>
      undamaged(() => settle.learn(probe, readings)),
    displaced: (probe: string, bounded: boolean, there: readonly KeptReading[]): Displaced[] =>
      undamaged(() => findDisplaced(probe, bounded, there)),
    /** What acknowledging needs to know of boots that were read back; what is known already stays. */
    learnBoots(marks: readonly BootMark[], anchors: readonly Anchor[]): void {
      transact(db, () => {
        for (const a of anchors) addAnchor.run(a.probe, a.boot, a.uptimeS, a.at)
        for (const m of marks) {
          if (rowOf<BootMark>(findMark, m.probe, m.boot) !== null) continue
          setMark.run(m.probe, m.boot, m.top, m.lost, m.lastAt, m.missing, m.highest)
        }
      })
    },
    async recall(probe: string, boot: number): Promise<BootMemory> {
      if (!schedule.held()) {
        await schedule.settle().catch((error: unknown) => {
          // Held meanwhile: the log tells the rest.
          if (!schedule.held()) throw error
        })
      }
      return undamaged(() => {
        // What has to wait was acknowledged all the same.
        const log = schedule.held() ? waiting.of(probe, boot) : null
        const mark = farther(rowOf<BootMark>(findMark, probe, boot), log?.mark ?? null)
        const top = mark?.top ?? -1
        const ahead = new Set(log?.seqs.filter((seq) => seq > top))
        for (const { id, body } of rowsOf<BlockBody>(findAhead, probe, boot, top)) {
          const block = decodeBlock(body, id)
          block.seq.forEach((seq, i) => {
            if (block.boot[i] === boot && seq > top) ahead.add(seq)
          })
        }
        return {
          mark,
          ahead: [...ahead].sort((a, b) => a - b),
          anchors: rowsOf<Anchor>(findAnchors, probe, boot),
          newest: later(newestLive(probe, boot), log?.newest ?? null),
        }
      })
    },
    ...outgoing.handlers,
    ...damage,
    queueSome: (): boolean => undamaged(outgoing.handlers.queueSome),
    prune: (before: number): number => undamaged(() => pruneSlice(before)),
    thinProbes: (): number[] => thinner.probes(),
    thinPlan: (probe: number, before: number): ProbeDays => thinner.plan(probe, before),
    thin: (days: ProbeDays) => undamaged(() => thinner.thin(days)),
    thinnedTo: (): Map<string, number> => thinner.thinnedTo(),
    shrink: () => shrinker.some(),
    shrinkWhole: () => shrinker.whole(),
    checkpoint: (): void => shrinker.checkpoint(),
    spans: (): ProbeSpan[] => rebuild.spans(),
    trimSpan: (span: ProbeSpan): void => rebuild.trim(span),
    rebuildDays: (stretch: ProbeSpan): void => undamaged(() => rebuild.days(stretch)),
    async close(): Promise<void> {
      await schedule.stop()
      db.close()
    },
  }
}

export type WriterApi = ReturnType<typeof openWriter>

serve<WriterData>((data, emit) => openWriter(data, emit))
