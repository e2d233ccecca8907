import { PLAIN_BOOT } from '../../model/reading.ts'
import { positionOf } from '../sqlite/block.ts'
import { readingAt } from '../sqlite/kept-readings.ts'
import { rowOf, transact } from '../sqlite/open-database.ts'
import { BOUNDED } from '../sqlite/placed-by.ts'
import { blockStore } from '../sqlite/probe-blocks.ts'
import type { Database } from '../sqlite/open-database.ts'
import type { KeptReading } from '../sqlite/kept-reading.ts'
import type { ProbeBlocks } from '../sqlite/probe-blocks.ts'

/** A reading that stands at another moment there than here. */
export interface Displaced {
  /** Where it stands there, epoch ms. */
  readonly t: number
  readonly boot: number
  readonly seq: number
  /** Nothing of this folder goes to that moment. */
  readonly alone: boolean
}

/**
 * Readings that an InfluxDB holds at other moments than this folder. A folder that was put back as it once was, and
 * settled before it could see what is there, gives readings that come again a moment anew: by another arrival, or on
 * the other side of the line between what is timed and what is only bounded. Sent like that, they would be there twice.
 *
 * The folder's moment is the one that stays, so that both tell the same. What the point says beyond the folder's
 * reading goes along with it.
 *
 * @param options.learn takes readings in at the moments they have there
 * @param options.keep puts readings into the queue, within a transaction
 */
export function displaced(
  db: Database,
  options: {
    readonly learn: (probe: string, readings: readonly KeptReading[]) => void
    readonly keep: (probe: string, readings: readonly KeptReading[]) => void
  },
) {
  const findProbe = db.prepare('SELECT id FROM probe WHERE name = ?')
  const blocks = blockStore(db)
  // Asked anew: what is taken in meanwhile is written by somebody else.
  const blocksOf = (probe: string): ProbeBlocks | null => {
    const row = rowOf<{ id: number }>(findProbe, probe)
    return row === null ? null : blocks.open(row.id)
  }

  /**
   * Of points of a measurement, `bounded` or not, whose readings the folder knows, those whose moments are to be
   * emptied there, ascending. What goes elsewhere instead waits in the queue when this returns.
   */
  return (probe: string, bounded: boolean, there: readonly KeptReading[]): Displaced[] => {
    let held = blocksOf(probe)
    if (held === null) return []
    let elsewhere = there.filter((one) => !same(standing(held!, one.t, bounded), one))
    // A hub that did not know which numbers it had given to plain numbers may have given one twice.
    const plain = elsewhere.filter((one) => {
      if (one.boot !== PLAIN_BOOT) return false
      const mine = named(held!, one)
      return mine !== null && !(same(mine, one) && mine.arrivedAt === one.arrivedAt)
    })
    if (plain.length > 0) {
      let seq = held.highest(PLAIN_BOOT)
      const renamed = new Map(plain.map((one) => [one, { ...one, seq: ++seq }]))
      options.learn(probe, [...renamed.values()])
      held = blocksOf(probe)!
      elsewhere = elsewhere.map((one) => renamed.get(one) ?? one)
    }
    const found: Displaced[] = []
    const sent: KeptReading[] = []
    for (const one of elsewhere) {
      const mine = named(held, one)
      // Other content under one name stays what it is, and where it is; so does what has become hours here.
      if (mine === null || mine.values.length === 0 || !same(mine, one)) continue
      const known = new Set(mine.values.map(({ channel }) => channel))
      const more = one.values.filter(({ channel }) => !known.has(channel))
      sent.push({ ...mine, values: [...mine.values, ...more] })
      if (mine.t === one.t && (mine.placedBy === 'bounded') === bounded) continue
      // Whatever of this folder stands at that moment goes there, and must not be mixed with what was there.
      const other = standing(held, one.t, bounded)
      if (other !== null) sent.push(other)
      found.push({ t: one.t, boot: mine.boot, seq: mine.seq, alone: other === null })
    }
    if (sent.length > 0) transact(db, () => options.keep(probe, sent))
    return found
  }
}

/** The folder's reading at a moment, among the timed or the bounded. */
function standing(held: ProbeBlocks, t: number, bounded: boolean): KeptReading | null {
  const { block } = held.blockFor(t)
  const position = positionOf(block, t)
  if (block.t[position] !== t) return null
  if ((block.placedBy[position] === BOUNDED) !== bounded) return null
  return readingAt(block, position)
}

/** The folder's reading of that name. */
function named(held: ProbeBlocks, { boot, seq }: KeptReading): KeptReading | null {
  const found = held.find(boot, seq)
  return found === null ? null : readingAt(found.open.block, found.position)
}

/** Whether a reading is this one: nothing that both of them tell differs. */
function same(mine: KeptReading | null, there: KeptReading): boolean {
  if (mine === null || mine.boot !== there.boot || mine.uptimeS !== there.uptimeS) return false
  // Plain numbers have the hub's numbers, which may differ.
  if (mine.seq !== there.seq && mine.boot !== PLAIN_BOOT) return false
  const values = new Map(mine.values.map(({ channel, value }) => [channel, value]))
  return there.values.every(({ channel, value }) => {
    const own = values.get(channel)
    return own === undefined || Object.is(own, value) || own === value
  })
}
