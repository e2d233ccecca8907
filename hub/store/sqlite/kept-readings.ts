import { decodeBlock, positionOf } from './block.ts'
import { rowOf } from './open-database.ts'
import { PLACED_BY } from './placed-by.ts'
import { ABSENT } from './value-column.ts'
import type { ChannelValue } from '../../model/reading.ts'
import type { Block } from './block.ts'
import type { KeptReading } from './kept-reading.ts'
import type { Database } from './open-database.ts'

/** Where a walk through all readings is. */
export interface WalkAt {
  readonly probe: string
  /** Epoch ms; readings from here on. */
  readonly t: number
}

const FIRST = Number.MIN_SAFE_INTEGER

/** Walks through every reading of a store, probe by probe in the order of their names, each ascending in time. */
export function keptReadings(db: Database): (
  at: WalkAt,
  limit: number,
) => {
  readonly probe: string
  readonly readings: KeptReading[]
  readonly next: WalkAt | null
} {
  const findProbe = db.prepare('SELECT id, name FROM probe WHERE name >= ? ORDER BY name LIMIT 1')
  const findNextProbe = db.prepare('SELECT name FROM probe WHERE name > ? ORDER BY name LIMIT 1')
  // The block in which a moment may stand, and those after it.
  const findBlocks = db.prepare(
    `SELECT id, body FROM block WHERE probe = ?1 AND start >= coalesce(
       (SELECT max(start) FROM block WHERE probe = ?1 AND start <= ?2), ?2
     ) ORDER BY start`,
  )
  return (at, limit) => {
    const probe = rowOf<{ id: number; name: string }>(findProbe, at.probe)
    if (probe === null) return { probe: at.probe, readings: [], next: null }
    const from = probe.name === at.probe ? at.t : FIRST
    const readings: KeptReading[] = []
    const found = findBlocks.iterate(probe.id, from) as Iterable<{ id: number; body: Uint8Array }>
    for (const { id, body } of found) {
      const block = decodeBlock(body, id)
      for (let i = positionOf(block, from); i < block.t.length; i++) {
        if (readings.length === limit) {
          return { probe: probe.name, readings, next: { probe: probe.name, t: block.t[i]! } }
        }
        readings.push(readingAt(block, i))
      }
    }
    const following = rowOf<{ name: string }>(findNextProbe, probe.name)
    const next = following === null ? null : { probe: following.name, t: FIRST }
    return { probe: probe.name, readings, next }
  }
}

export function readingAt(block: Block, i: number): KeptReading {
  const deviceAt = block.deviceAt[i]!
  const values: ChannelValue[] = []
  for (const [channel, column] of block.values) {
    const value = column[i]!
    if (value !== ABSENT) values.push({ channel, value })
  }
  return {
    boot: block.boot[i]!,
    seq: block.seq[i]!,
    t: block.t[i]!,
    at: block.at[i]!,
    uptimeS: block.uptime[i]!,
    placedBy: PLACED_BY[block.placedBy[i]!]!,
    arrivedAt: block.arrivedAt[i]!,
    deviceAt: Number.isNaN(deviceAt) ? null : deviceAt,
    flags: block.flags[i]!,
    values,
  }
}
