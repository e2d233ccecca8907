import { HubError } from '../../errors.ts'
import { DAY } from '../../model/clock.ts'
import { decodeBlock } from './block.ts'
import { unlessDamaged } from './damaged-content.ts'
import { wholeDays } from './day-parts.ts'
import { openHours } from './hour-columns.ts'
import { readingAt } from './kept-readings.ts'
import { migrateReadings } from './migrate-readings.ts'
import { openDatabase, rowOf, rowsOf } from './open-database.ts'
import { openIntake } from './open-intake.ts'
import { startOf } from './roll-up.ts'
import { serve } from './serve.ts'
import { thinnedDay } from './thinned-day.ts'
import type { OpenPart } from './damaged-parts.ts'
import type { KeptReading } from './kept-reading.ts'

/** What another file of readings has of a damaged part. */
export type Salvaged =
  | { readonly kind: 'readings'; readonly readings: readonly KeptReading[] }
  | { readonly kind: 'batch'; readonly body: Uint8Array; readonly readings: number }
  | { readonly kind: 'hours'; readonly hours: Uint8Array; readonly readings: number }
  /** It has become hours there, or nothing of it is there that can be read. */
  | { readonly kind: 'none'; readonly why: 'hours only' | 'nothing' }

const NOTHING: Salvaged = { kind: 'none', why: 'nothing' }
function openSalvage(file: string) {
  try {
    return lookThrough(file)
  } catch (error) {
    // What a hub has made can be read; who knows who made this.
    if (!(error instanceof Error) || !('errcode' in error)) throw error
    throw new HubError(
      'HUB_STORE_UNAVAILABLE',
      `expected the readings of a hub in the backup, got a database that cannot be read as such (${error.message})`,
      { retry: false, cause: error },
    )
  }
}

/** Looks in a copy of another file of readings for parts that are damaged here. The copy is brought to the newest layout. */
function lookThrough(file: string) {
  const db = openDatabase(file)
  migrateReadings(db, file)
  const findLog = db.prepare('SELECT readings AS n, body FROM log WHERE i = ?')
  const findProbe = db.prepare('SELECT id FROM probe WHERE name = ?')
  const findBlocks = db.prepare(
    'SELECT id, thinned, body FROM block WHERE probe = ? AND start >= ? AND start < ? ORDER BY start',
  )
  const findHours = db.prepare(
    `SELECT hours FROM block WHERE probe = ? AND start >= ? AND start < ? AND thinned = 1
     AND hours IS NOT NULL ORDER BY start LIMIT 1`,
  )
  // A backup made after the damage was met lacks the same readings; what it has there came afterwards.
  const findSame = db.prepare(
    `SELECT 1 FROM damaged WHERE at = ? AND part = ? AND place = ? AND n = ? AND outcome IS NOT 'back'`,
  )
  const days = wholeDays(db)

  function batch({ place, n }: OpenPart): Salvaged {
    const row = rowOf<{ n: number; body: Uint8Array }>(findLog, BigInt(place))
    if (row?.n !== n) return NOTHING
    openIntake(row.body, place)
    return { kind: 'batch', body: row.body, readings: row.n }
  }

  function hours(probe: number, { place }: OpenPart): Salvaged {
    const row = rowOf<{ hours: Uint8Array }>(findHours, probe, BigInt(place), BigInt(place + DAY))
    if (row !== null)
      return { kind: 'hours', hours: row.hours, readings: openHours(row.hours).readings }
    // Older than the hours: they are made again of the readings it still has.
    const parts = days.parts(probe, place)
    if (parts.length === 0) return NOTHING
    const made = thinnedDay(parts)
    return { kind: 'hours', hours: made.hours, readings: made.readings }
  }

  function readings(probe: number, part: OpenPart & { readonly until: number }): Salvaged {
    const { place, until, thinned } = part
    const blocks = rowsOf<{ id: number; thinned: number; body: Uint8Array }>(
      findBlocks,
      probe,
      BigInt(startOf(place, DAY)),
      BigInt(until),
    )
    // Names alone would stand in the way of the readings, should another copy have them.
    if (!thinned && blocks.some((one) => one.thinned === 1))
      return { kind: 'none', why: 'hours only' }
    const found = blocks.flatMap((one): KeptReading[] => {
      const block = unlessDamaged(() => decodeBlock(one.body))
      // Whole there: the values of a day that has become hours here are in these. Bare there: what it has came late.
      const named = thinned && one.thinned === 0
      return (block?.t ?? []).flatMap((t, i) => {
        if (block === null || t < place || t >= until) return []
        const reading = readingAt(block, i)
        return named && reading.placedBy !== 'bounded' ? { ...reading, values: [] } : reading
      })
    })
    return found.length === 0 ? NOTHING : { kind: 'readings', readings: found }
  }

  return {
    find(part: OpenPart): Salvaged {
      const { at, place, n } = part
      if (rowOf(findSame, BigInt(at), part.part, BigInt(place), BigInt(n)) !== null) return NOTHING
      if (part.part === 'log') return unlessDamaged(() => batch(part)) ?? NOTHING
      const probe = rowOf<{ id: number }>(findProbe, part.probe)?.id
      const { until } = part
      if (probe === undefined || until === null) return NOTHING
      return part.part === 'hours'
        ? (unlessDamaged(() => hours(probe, part)) ?? NOTHING)
        : readings(probe, { ...part, until })
    },
    close: (): void => db.close(),
  }
}

export type SalvageApi = ReturnType<typeof openSalvage>

serve<{ readonly file: string }>(({ file }) => openSalvage(file))
