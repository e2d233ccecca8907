import { DAY } from '../../model/clock.ts'
import {
  cutBlock,
  decodeBlock,
  emptyBlock,
  encodeBlock,
  insertRow,
  positionOf,
  spansOf,
} from './block.ts'
import { rowOf, rowsOf } from './open-database.ts'
import { startOf } from './roll-up.ts'
import type { Block } from './block.ts'
import type { Database } from './open-database.ts'
import type { IntakeRow } from './open-intake.ts'

/** Readings in one block; a fuller day goes on in another. */
const FULL = 2048

/** A block in memory, of the readings from `start` on and before `end`. */
export interface OpenBlock {
  /** Row in the database; null when it is new. */
  id: number | null
  readonly start: number
  end: number
  readonly block: Block
  /** Its values are gone, hours stand for them; names and times are still there. */
  readonly thinned: boolean
  changed: boolean
  /** Some of its readings went to another block. */
  cut: boolean
  /** By boot, the number -> moment of every reading; made when it is first needed. */
  names: Map<number, Map<number, number>> | null
}

interface BlockRecord {
  readonly id: number
  readonly start: number
  readonly thinned: number
  readonly body: Uint8Array
}

/** The blocks of one probe that are in memory, and the others on the disk. */
export interface ProbeBlocks {
  /** The block in which a reading of the moment `t` stands, or would. */
  blockFor(t: number): OpenBlock
  /** Where the reading of this name stands, or null. */
  find(boot: number, seq: number): { readonly open: OpenBlock; readonly position: number } | null
  /** The highest number of a boot; -1 when there is none. */
  highest(boot: number): number
  /** The first moment from `t` on that no reading has; the next one gets another. */
  take(t: number): number
  /** Puts a reading in its place, `row.t`, a moment nobody else has taken. */
  put(row: IntakeRow): void
  /** All blocks of the UTC day that begins at `day`. */
  ofDay(day: number): readonly OpenBlock[]
  /** Writes what has changed; must be in a transaction. Returns the days with changes. */
  write(): ReadonlySet<number>
  /** Lets go of all but the newest block. Returns how many readings stay in memory. */
  rest(): number
}

/** Reads and writes the blocks of probes; `open` gives those of one, by its row in `probe`. */
export function blockStore(db: Database): { open(probe: number): ProbeBlocks } {
  const findAt = db.prepare(
    `SELECT id, start, thinned, body FROM block WHERE probe = ? AND start <= ? ORDER BY start DESC LIMIT 1`,
  )
  const findNext = db.prepare('SELECT min(start) AS start FROM block WHERE probe = ? AND start > ?')
  const findDay = db.prepare(
    'SELECT start FROM block WHERE probe = ? AND start >= ? AND start < ? ORDER BY start',
  )
  const findHolding = db.prepare(
    `SELECT start FROM span JOIN block ON block.id = span.block
     WHERE span.probe = ? AND boot = ? AND low <= ? AND high >= ?`,
  )
  const findHighest = db.prepare('SELECT max(high) AS high FROM span WHERE probe = ? AND boot = ?')
  const add = db.prepare(
    'INSERT INTO block (probe, start, n, thinned, body) VALUES (?, ?, ?, ?, ?) RETURNING id',
  )
  // A day that thinning would not have made smaller may be another now.
  const replace = db.prepare(
    'UPDATE block SET n = ?, body = ?, hours = iif(thinned = 1, hours, NULL) WHERE id = ?',
  )
  const dropSpans = db.prepare('DELETE FROM span WHERE probe = ? AND block = ?')
  const addSpan = db.prepare('INSERT OR REPLACE INTO span VALUES (?, ?, ?, ?, ?)')

  function open(probe: number): ProbeBlocks {
    const blocks = new Map<number, OpenBlock>()
    /** The highest number of each boot that was asked about; -1 when there is none. */
    const highest = new Map<number, number>()
    /** Moments known to be taken without a hole. */
    let run = { from: 0, to: -1 }
    let last: OpenBlock | null = null

    function nextStart(start: number): number {
      let next = rowOf<{ start: number | null }>(findNext, probe, start)?.start ?? Infinity
      for (const other of blocks.keys()) if (other > start && other < next) next = other
      return Math.min(next, startOf(start, DAY) + DAY)
    }

    function remember({ id, start, thinned, body }: BlockRecord): OpenBlock {
      return place(id, start, thinned === 1, decodeBlock(body, id))
    }

    function place(id: number | null, start: number, thinned: boolean, block: Block): OpenBlock {
      const made = {
        id,
        start,
        end: nextStart(start),
        thinned,
        block,
        changed: false,
        cut: false,
        names: null,
      }
      blocks.set(start, made)
      return made
    }

    function load(start: number): OpenBlock {
      const held = blocks.get(start)
      if (held !== undefined) return held
      const row = rowOf<BlockRecord>(findAt, probe, start)
      if (row?.start !== start) throw new RangeError(`no block of probe ${probe} at ${start}`)
      return remember(row)
    }

    function blockFor(t: number): OpenBlock {
      if (last !== null && last.start <= t && t < last.end) return last
      for (const one of blocks.values()) if (one.start <= t && t < one.end) return (last = one)
      const day = startOf(t, DAY)
      const row = rowOf<BlockRecord>(findAt, probe, t)
      if (row !== null && row.start >= day) {
        last = blocks.get(row.start) ?? remember(row)
      } else last = place(null, day, false, emptyBlock())
      return last
    }

    function positionIn(one: OpenBlock, boot: number, seq: number): number | null {
      if (one.names === null) {
        one.names = new Map()
        for (const [i, t] of one.block.t.entries())
          note(one, one.block.boot[i]!, one.block.seq[i]!, t)
      }
      const t = one.names.get(boot)?.get(seq)
      return t === undefined ? null : positionOf(one.block, t)
    }

    function note(one: OpenBlock, boot: number, seq: number, t: number): void {
      if (one.names === null) return
      let names = one.names.get(boot)
      if (names === undefined) one.names.set(boot, (names = new Map<number, number>()))
      names.set(seq, t)
    }

    /** A full block goes on in a new one from position `from` on. */
    function split(one: OpenBlock, from: number, start: number): void {
      const rest = cutBlock(one.block, from)
      const { end, thinned } = one
      one.end = start
      one.names = null
      one.changed = true
      one.cut = true
      blocks.set(start, {
        id: null,
        start,
        end,
        thinned,
        block: rest,
        changed: true,
        cut: false,
        names: null,
      })
      last = null
    }

    function highestOf(boot: number): number {
      let high = highest.get(boot)
      if (high === undefined) {
        high = rowOf<{ high: number | null }>(findHighest, probe, boot)?.high ?? -1
        highest.set(boot, high)
      }
      return high
    }

    return {
      blockFor,
      highest: highestOf,
      find(boot, seq) {
        if (seq > highestOf(boot)) return null
        for (const one of blocks.values()) {
          const position = positionIn(one, boot, seq)
          if (position !== null) return { open: one, position }
        }
        for (const { start } of rowsOf<{ start: number }>(findHolding, probe, boot, seq, seq)) {
          if (blocks.has(start)) continue
          const one = load(start)
          const position = positionIn(one, boot, seq)
          if (position !== null) return { open: one, position }
        }
        return null
      },
      take(t) {
        const known = run.from <= t && t <= run.to
        let free = known ? run.to + 1 : t
        for (;;) {
          const { block, end } = blockFor(free)
          let position = positionOf(block, free)
          while (free < end && block.t[position] === free) {
            free++
            position++
          }
          if (free < end) break
        }
        run = { from: known ? run.from : t, to: free }
        return free
      },
      put(row) {
        let one = blockFor(row.t)
        const n = one.block.t.length
        if (n >= FULL && row.t > one.block.t[n - 1]!) {
          split(one, n, row.t)
          one = blockFor(row.t)
        } else if (n >= 2 * FULL) {
          split(one, FULL, one.block.t[FULL]!)
          one = blockFor(row.t)
        }
        insertRow(one.block, row, row.channels, row.values)
        one.changed = true
        note(one, row.boot, row.seq, row.t)
        const high = highest.get(row.boot)
        if (high === undefined || high < row.seq) {
          // Not asked before: what is on the disk may reach further.
          const stored =
            high ?? rowOf<{ high: number | null }>(findHighest, probe, row.boot)?.high ?? -1
          highest.set(row.boot, Math.max(stored, row.seq))
        }
      },
      ofDay(day) {
        const starts = new Set(
          rowsOf<{ start: number }>(findDay, probe, day, day + DAY).map(({ start }) => start),
        )
        for (const start of blocks.keys()) if (start >= day && start < day + DAY) starts.add(start)
        return [...starts].sort((a, b) => a - b).map(load)
      },
      write() {
        const days = new Set<number>()
        for (const one of blocks.values()) {
          if (!one.changed) continue
          const { block, start } = one
          const body = encodeBlock(block)
          if (one.id === null) {
            one.id =
              rowOf<{ id: number }>(add, probe, start, block.t.length, one.thinned ? 1 : 0, body)
                ?.id ?? null
          } else {
            replace.run(block.t.length, body, one.id)
            // Only a block that was cut in two can hold less of a boot than before.
            if (one.cut) dropSpans.run(probe, one.id)
          }
          for (const [boot, { low, high }] of spansOf(block)) {
            addSpan.run(probe, boot, one.id, low, high)
          }
          one.changed = false
          one.cut = false
          days.add(startOf(start, DAY))
        }
        return days
      },
      rest() {
        const newest = Math.max(...blocks.keys())
        for (const start of blocks.keys()) if (start !== newest) blocks.delete(start)
        last = blocks.get(newest) ?? null
        run = { from: 0, to: -1 }
        return last?.block.t.length ?? 0
      },
    }
  }

  return { open }
}
