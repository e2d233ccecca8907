import { PLAIN_BOOT } from '../../model/reading.ts'
import { accounting } from './accounting.ts'
import { contradiction } from './contradiction.ts'
import { dailyRows } from './daily-rows.ts'
import { keptOf, pairsOf, rowOfKept, textOf } from './kept-row.ts'
import { logStretches, type Gathering, type Stretch } from './log-stretch.ts'
import { rowOf, transact } from './open-database.ts'
import { BOUNDED } from './placed-by.ts'
import { placePlain, type SamePlain } from './plain-numbers.ts'
import { blockStore } from './probe-blocks.ts'
import { quarantine } from './quarantine.ts'
import { toStored } from './scaled.ts'
import { seriesIds } from './series-ids.ts'
import type { DayPart } from './daily-rows.ts'
import type { KeptReading } from './kept-reading.ts'
import type { Database } from './open-database.ts'
import type { IntakeRow } from './open-intake.ts'
import type { OpenBlock, ProbeBlocks } from './probe-blocks.ts'

/** What one slice moved. */
export interface Slice {
  /** The log is settled up to and including this row. */
  readonly cursor: number
  readonly probes: ReadonlySet<string>
  /** Epoch ms; Infinity and -Infinity when only repetitions came. */
  readonly from: number
  readonly to: number
}

export interface Settling {
  /** Does one short piece of the work; null when nothing is left. */
  readonly slice: () => Slice | null
  /**
   * Takes in readings of a probe that another place has kept already, at the moments they have there, unless
   * they are known. Returns how many were not known.
   *
   * @param options.counted they are in the accounts of their boots already. @default false
   * @param options.told whoever hears of kept readings hears of them. @default false
   */
  readonly learn: (
    probe: string,
    readings: readonly KeptReading[],
    options?: { readonly counted?: boolean; readonly told?: boolean },
  ) => number
  /** Somebody else changes blocks: what is remembered of them is read anew. */
  readonly forget: () => void
}

export interface SettlingOptions {
  /** Hears of every reading that is kept, once, within the transaction that keeps it. */
  readonly onKept?: ((probe: string, readings: readonly KeptReading[]) => void) | undefined
}

/** Log rows of a probe are in one transaction; after this many ms no further probe is added to it, no row read. */
const SLICE_MS = 8
/** Readings that blocks kept in memory may hold together. */
const REMEMBERED = 200_000

const NOTHING: Omit<Slice, 'cursor'> = { probes: new Set(), from: Infinity, to: -Infinity }

/** A stretch of the log and how many probes of it are done. */
interface Run {
  readonly stretch: Stretch
  next: number
}

/** Those of a day that became hours have no arrivals of their own any more. */
const samePlain: SamePlain = ({ open, position }, row) =>
  contradiction(open, position, row) === null &&
  (open.thinned || open.block.arrivedAt[position] === row.arrivedAt)

/**
 * Moves what the log holds, in log order, into the tables that are read from. The first arrival of a
 * (probe, boot, seq) wins; the same again is counted; other content under the same name goes to
 * quarantine. A repetition may leave channels, flags and the probe's clock out, as a batch does.
 * Plain numbers have their numbers from the hub, so that other content under one is another reading.
 *
 * A run takes a stretch of the log and goes probe by probe, some in each transaction. Each probe knows how far
 * it is, so that a run that was broken off does nothing twice; the cursor of the log moves with the last probe.
 */
export function settling(db: Database, options: SettlingOptions = {}): Settling {
  const findCursor = db.prepare(`SELECT i FROM cursor WHERE name = 'settled'`)
  const moveCursor = db.prepare(`UPDATE cursor SET i = ? WHERE name = 'settled'`)
  const trimLog = db.prepare('DELETE FROM log WHERE i <= (SELECT min(i) FROM cursor)')
  const setSettled = db.prepare('UPDATE probe SET settled_to = ? WHERE id = ?')
  const setLatest = db.prepare(
    `INSERT INTO latest VALUES (?, ?, ?)
     ON CONFLICT (series) DO UPDATE SET t = excluded.t, v = excluded.v WHERE excluded.t > latest.t`,
  )
  const setMark = db.prepare(
    `INSERT INTO mark (probe, boot, top, lost, last_at, missing, highest)
     VALUES (?, ?, ?, ?, ?, ?, ?)
     ON CONFLICT DO UPDATE SET top = excluded.top, lost = excluded.lost, last_at = excluded.last_at,
       missing = excluded.missing, highest = excluded.highest
     WHERE (excluded.top, excluded.highest) >= (top, highest)`,
  )
  const addTally = db.prepare('UPDATE tally SET n = n + ? WHERE name = ?')
  const aside = quarantine(db)
  const gather = logStretches(db)
  const ids = seriesIds(db)
  const { probeOf, seriesOf } = ids
  const blocks = blockStore(db)
  const daily = dailyRows(db)
  const accounts = accounting(db)

  // What is remembered of a transaction that failed was never stored, so all of it is forgotten then.
  const remembered = new Map<number, ProbeBlocks>()
  let gathering: Gathering | null = null
  let run: Run | null = null

  const blocksOf = (probe: number): ProbeBlocks => {
    const known = remembered.get(probe) ?? blocks.open(probe)
    // The one used last stands at the end.
    remembered.delete(probe)
    remembered.set(probe, known)
    return known
  }

  /** Keeps the readings of one probe and all that follows from them. */
  function keep(
    name: string,
    rows: Iterable<IntakeRow>,
    account: ReturnType<typeof accounts.open>,
    onKept: SettlingOptions['onKept'],
  ): { from: number; to: number; readings: number; duplicates: number; quarantined: number } {
    const probe = probeOf(name).id
    const held = blocksOf(probe)
    const moved = { from: Infinity, to: -Infinity, readings: 0, duplicates: 0, quarantined: 0 }
    const newest = new Map<string, { t: number; value: number }>()
    const kept: KeptReading[] = []
    const given = new Set<number>()
    for (const row of rows) {
      let found = held.find(row.boot, row.seq)
      // What is learned from elsewhere has the number it has there.
      if (found !== null && row.boot === PLAIN_BOOT && Number.isNaN(row.t)) {
        const again = !given.has(row.seq) && samePlain(found, row)
        const place = again ? found : placePlain(held, row, given, samePlain)
        if (typeof place === 'number') row.seq = place
        found = typeof place === 'number' ? null : place
      }
      if (found === null) {
        if (row.boot === PLAIN_BOOT) given.add(row.seq)
        const t = held.take(Number.isNaN(row.t) ? Math.round(row.at) : row.t)
        row.t = t
        held.put(row)
        if (row.placedBy !== BOUNDED) note(newest, row)
        if (onKept !== undefined) kept.push(keptOf(row))
        moved.readings++
        if (t < moved.from) moved.from = t
        if (t > moved.to) moved.to = t
        account.received(row)
        continue
      }
      const differs = contradiction(found.open, found.position, row)
      if (differs !== null && putAside(name, row, differs)) {
        moved.quarantined++
        account.conflicting(row)
      } else {
        moved.duplicates++
        account.repeated(row)
      }
    }
    for (const [channel, { t, value }] of newest) {
      setLatest.run(seriesOf(probe, channel), t, toStored(value))
    }
    for (const day of held.write()) {
      daily.make(probe, day, held.ofDay(day).map(asPart), (channel) => seriesOf(probe, channel))
    }
    if (kept.length > 0) onKept?.(name, kept)
    return moved
  }

  /** Other content under a known name; false when this very content is there already. */
  function putAside(probe: string, row: IntakeRow, differs: string): boolean {
    const name = `${probe}/${row.boot}/${row.seq}`
    return aside.contradict({
      arrivedAt: row.arrivedAt,
      topic: name,
      payload: Buffer.from(textOf(row)),
      reason:
        `Reading ${row.seq} of boot ${row.boot} of probe ${probe} came again with other content ` +
        `(${differs}). The first is kept. A probe must take a new boot id whenever it loses count ` +
        'of its readings.',
      same: `${name} ${JSON.stringify([row.uptime, pairsOf(row)])}`,
    })
  }

  function proceed(work: Run): Slice {
    const { shares, last } = work.stretch
    const told = { probes: new Set<string>(), from: Infinity, to: -Infinity }
    const tally = { readings: 0, duplicates: 0, quarantined: 0 }
    const account = accounts.open()
    const start = performance.now()
    while (work.next < shares.length && performance.now() - start < SLICE_MS) {
      const share = shares[work.next++]!
      if (share.readings > 0) {
        const probe = probeOf(share.probe)
        // After a run that was broken off some of it is settled.
        const moved = keep(share.probe, share.rows(probe.settledTo), account, options.onKept)
        tally.readings += moved.readings
        tally.duplicates += moved.duplicates
        tally.quarantined += moved.quarantined
        if (moved.readings > 0) told.probes.add(share.probe)
        told.from = Math.min(told.from, moved.from)
        told.to = Math.max(told.to, moved.to)
        probe.settledTo = last
        setSettled.run(last, probe.id)
      }
      for (const m of share.marks.values()) {
        setMark.run(m.probe, m.boot, m.top, m.lost, m.lastAt, m.missing, m.highest)
      }
    }
    for (const [name, n] of Object.entries(tally)) if (n > 0) addTally.run(n, name)
    aside.trim()
    account.close()
    const over = work.next === shares.length
    if (over) {
      moveCursor.run(last)
      trimLog.run()
    }
    return { cursor: over ? last : (rowOf<{ i: number }>(findCursor)?.i ?? 0), ...told }
  }

  function forget(): void {
    remembered.clear()
    ids.forget()
    gathering = null
    run = null
  }

  /** The blocks used last stay in memory, as many as may. */
  function rest(): void {
    let readings = 0
    for (const [probe, held] of [...remembered].toReversed()) {
      readings += held.rest()
      if (readings > REMEMBERED) remembered.delete(probe)
    }
  }

  /** In one transaction, of which nothing is remembered when it fails. */
  function whole<T>(work: () => T): T {
    // The log holds it until this is on the disk, and what a power cut takes from the end of the write-ahead log
    // it takes in order: moved and cleared together, or neither.
    db.exec('PRAGMA synchronous = NORMAL')
    try {
      return transact(db, work)
    } catch (error) {
      forget()
      throw error
    } finally {
      db.exec('PRAGMA synchronous = FULL')
    }
  }

  return {
    slice() {
      if (run === null) {
        gathering ??= gather()
        if (!gathering.read(SLICE_MS)) return { ...NOTHING, cursor: gathering.cursor }
        const stretch = gathering.stretch()
        gathering = null
        if (stretch === null) return null
        run = { stretch, next: 0 }
      }
      const work = run
      const slice = whole(() => proceed(work))
      if (slice.cursor >= work.stretch.last) {
        run = null
        rest()
      }
      return slice
    },
    learn: (probe, readings, { counted = false, told = false } = {}) =>
      whole(() => {
        const held = blocksOf(probeOf(probe).id)
        const news = readings.filter(({ boot, seq }) => held.find(boot, seq) === null)
        const account = accounts.open()
        const moved = keep(
          probe,
          news.map((reading) => rowOfKept(probe, reading)),
          account,
          told ? options.onKept : undefined,
        )
        if (moved.readings > 0) addTally.run(moved.readings, 'readings')
        if (!counted) account.close()
        rest()
        return moved.readings
      }),
    forget,
  }
}

function asPart({ block, thinned }: OpenBlock): DayPart {
  const { t, placedBy, values } = block
  return {
    t,
    placedBy,
    thinned,
    channels: values.keys(),
    values: (channel) => values.get(channel) ?? null,
  }
}

/** Remembers the values of a reading where none is newer. */
function note(
  newest: Map<string, { t: number; value: number }>,
  { t, channels, values }: IntakeRow,
): void {
  for (let i = 0; i < channels.length; i++) {
    const before = newest.get(channels[i]!)
    if (before === undefined) newest.set(channels[i]!, { t, value: values[i]! })
    else if (before.t < t) {
      before.t = t
      before.value = values[i]!
    }
  }
}
