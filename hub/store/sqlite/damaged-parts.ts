import { rowOf, rowsOf } from './open-database.ts'
import type { DamagedPart, DamagedStretch } from '../damage.ts'
import type { Database } from './open-database.ts'

/** A part that is open, as whoever looks for it elsewhere needs it. */
export interface OpenPart {
  readonly id: number
  /** When it was met, epoch ms. */
  readonly at: number
  readonly part: 'log' | 'block' | 'hours'
  /** The row in the log, or epoch ms. */
  readonly place: number
  /** Epoch ms, not included; null: a row in the log. */
  readonly until: number | null
  readonly probe: string | null
  readonly thinned: boolean
  readonly n: number
}

interface Row {
  readonly id: number
  readonly at: number
  readonly part: OpenPart['part']
  readonly place: number
  readonly until: number | null
  readonly probe: string | null
  readonly thinned: number
  readonly n: number
  readonly now: number | null
  readonly back: number
  readonly bytes: number
  readonly why: string
  readonly settledAt: number | null
  readonly outcome: 'back' | 'gone' | null
}

/** What is read of the table of damaged parts. */
export function damagedParts(db: Database) {
  const now = `(SELECT coalesce(sum(block.n), 0) FROM block
     WHERE block.probe = damaged.probe AND start >= place AND start < until)`
  const findAll = db.prepare(
    `SELECT damaged.id, at, part, place, until, name AS probe, thinned, n, back,
       iif(until IS NULL, NULL, ${now}) AS now,
       length(body) AS bytes, why, settled_at AS settledAt, outcome
     FROM damaged LEFT JOIN probe ON probe.id = damaged.probe ORDER BY damaged.id DESC`,
  )
  const findOpen = db.prepare(
    'SELECT count(*) AS parts, coalesce(sum(n), 0) AS readings, min(at) AS at FROM damaged WHERE outcome IS NULL',
  )
  const findBytes = db.prepare('SELECT body FROM damaged WHERE id = ? AND outcome IS NULL')
  // Of a thinned day only what stood for the values is missed, and where everything came again nothing is.
  const findWithin = db.prepare(
    `SELECT name AS probe, iif(part = 'hours', 'hours', 'readings') AS what, place AS "from", until AS "to", n AS readings, outcome
     FROM damaged JOIN probe ON probe.id = damaged.probe
     WHERE name = ? AND place < ? AND until > ? AND outcome IS NOT 'back'
       AND (part = 'hours' OR part = 'block' AND thinned = 0 AND (until > at OR ${now} < n))
     ORDER BY place`,
  )

  const WHAT = { log: 'batch', block: 'readings', hours: 'hours' } as const
  const viewOf = (row: Row): DamagedPart => ({
    id: row.id,
    metAt: row.at,
    what: row.part === 'block' && row.thinned === 1 ? 'names' : WHAT[row.part],
    probe: row.probe,
    from: row.until === null ? null : row.place,
    to: row.until,
    readings: row.n,
    now: row.now,
    back: row.back,
    bytes: row.bytes,
    why: row.why,
    settled: row.outcome === null ? null : { at: row.settledAt ?? 0, how: row.outcome },
  })

  return {
    damagedList: (): DamagedPart[] => rowsOf<Row>(findAll).map(viewOf),
    damagedOpen: (): OpenPart[] =>
      rowsOf<Row>(findAll)
        .filter(({ outcome }) => outcome === null)
        .map(({ id, at, part, place, until, probe, thinned, n }) => ({
          id,
          at,
          part,
          place,
          until,
          probe,
          thinned: thinned === 1,
          n,
        })),
    /** Of what nobody has settled yet: how many parts and readings, and since when; null: nothing. */
    damaged() {
      const found = rowOf<{ parts: number; readings: number; at: number }>(findOpen)
      return found === null || found.parts === 0 ? null : found
    },
    damagedBytes: (id: number): Uint8Array | null =>
      rowOf<{ body: Uint8Array }>(findBytes, BigInt(id))?.body ?? null,
    damagedWithin: (probes: readonly string[], from: number, to: number): DamagedStretch[] =>
      probes
        .flatMap((probe) =>
          rowsOf<Omit<DamagedStretch, 'gone'> & { readonly outcome: 'gone' | null }>(
            findWithin,
            probe,
            to,
            from,
          ),
        )
        .map(({ outcome, ...stretch }) => ({ ...stretch, gone: outcome === 'gone' }))
        .sort((a, b) => a.from - b.from),
  }
}
