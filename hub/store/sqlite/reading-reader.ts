import { openDatabase, rowOf, rowsOf } from './open-database.ts'
import { decodeBlock } from './block.ts'
import { unlessDamaged } from './damaged-content.ts'
import { damagedParts } from './damaged-parts.ts'
import { latestColumns } from './latest-columns.ts'
import { PLACED_BY } from './placed-by.ts'
import { valueOf } from './scaled.ts'
import { seriesReader } from './series-reader.ts'
import { Parcel, serve } from './serve.ts'
import type { BootAccount, PlacedReading } from '../../model/reading.ts'
import type { BucketQuery } from '../../model/series.ts'
import type { SeriesAnswers } from './series-reader.ts'
import type { IntakeCounts, LatestValue, QuarantineRow } from '../reading-store.ts'

function openReader(file: string) {
  const db = openDatabase(file, { readOnly: true, cacheKiB: 12_288 })

  const answers = seriesReader(db)
  const findLatest = db.prepare(
    `SELECT probe.name AS probe, channel, t AS at, ${valueOf('v')} AS value
     FROM latest JOIN series ON series.id = latest.series JOIN probe ON probe.id = series.probe
     WHERE probe.name = ? ORDER BY channel`,
  )
  const findQuarantine = db.prepare(
    `SELECT id, arrived_at AS arrivedAt, topic, payload, reason FROM quarantine
     ORDER BY id DESC LIMIT CAST(? AS INTEGER)`,
  )
  const findTally = db.prepare('SELECT name, n FROM tally')
  const findLost = db.prepare('SELECT coalesce(sum(lost), 0) AS lost FROM mark')

  // What a boot took is received, missing or lost: a number written off that came after all is received.
  const findAccounts = db.prepare(
    `WITH boots AS (
       SELECT boot FROM account WHERE probe = ?1 UNION SELECT boot FROM mark WHERE probe = ?1
     )
     SELECT boots.boot, coalesce(received, 0) AS received, coalesce(late, 0) AS late,
       coalesce(duplicates, 0) AS duplicates, coalesce(conflicting, 0) AS conflicting,
       coalesce(by_arrival, 0) AS arrival, coalesce(by_device, 0) AS device,
       coalesce(by_anchors, 0) AS anchors, coalesce(bounded, 0) AS bounded,
       coalesce(by_file, 0) AS file,
       coalesce(missing, 0) AS missing,
       max(0, min(coalesce(lost, 0), coalesce(highest, -1) + 1 - coalesce(received, 0) - coalesce(missing, 0))) AS lost,
       coalesce(first_at, mark.last_at) AS firstAt,
       max(coalesce(account.last_at, 0), coalesce(mark.last_at, 0)) AS lastAt
     FROM boots LEFT JOIN account ON account.probe = ?1 AND account.boot = boots.boot
       LEFT JOIN mark ON mark.probe = ?1 AND mark.boot = boots.boot
     ORDER BY lastAt DESC, boots.boot DESC`,
  )

  const findNewest = db.prepare(
    `SELECT id, body FROM block WHERE probe = (SELECT id FROM probe WHERE name = ?)
     ORDER BY start DESC`,
  )

  return {
    buckets(queries: readonly BucketQuery[]): Parcel<SeriesAnswers> {
      // One transaction: all answers show the same moment.
      db.exec('BEGIN')
      try {
        const found = answers(queries)
        const buffers = found.told.flatMap((b) =>
          [b.time, b.count, b.min, b.mean, b.max, b.median].map(({ buffer }) => buffer),
        )
        return new Parcel(found, [...new Set(buffers)] as ArrayBuffer[])
      } finally {
        db.exec('COMMIT')
      }
    },
    latest: latestColumns(db),
    latestOf: (probe: string): LatestValue[] =>
      rowsOf<{ probe: string; channel: string; at: number; value: number | null }>(
        findLatest,
        probe,
      ).map((row) => ({ ...row, value: row.value ?? NaN })),
    quarantine: (limit: number): QuarantineRow[] => rowsOf<QuarantineRow>(findQuarantine, limit),
    counts(): IntakeCounts {
      db.exec('BEGIN')
      try {
        const tally = new Map(
          rowsOf<{ name: string; n: number }>(findTally).map(({ name, n }) => [name, n]),
        )
        return {
          readings: tally.get('readings') ?? 0,
          duplicates: tally.get('duplicates') ?? 0,
          quarantined: tally.get('quarantined') ?? 0,
          quarantineDropped: tally.get('quarantine dropped') ?? 0,
          lost: rowOf<{ lost: number }>(findLost)?.lost ?? 0,
        }
      } finally {
        db.exec('COMMIT')
      }
    },
    ...damagedParts(db),
    accounts: (probe: string): BootAccount[] =>
      rowsOf<Omit<BootAccount, 'probe' | 'placed'> & BootAccount['placed']>(
        findAccounts,
        probe,
      ).map(({ arrival, device, anchors, bounded, file, ...rest }) => ({
        probe,
        ...rest,
        placed: { arrival, device, anchors, bounded, file },
      })),
    newest(
      probe: string,
      limit: number,
    ): { readonly rows: PlacedReading[]; readonly damaged: readonly number[] } {
      const rows: PlacedReading[] = []
      const damaged: number[] = []
      for (const { id, body } of findNewest.iterate(probe) as Iterable<{
        id: number
        body: Uint8Array
      }>) {
        const block = unlessDamaged(
          () => decodeBlock(body),
          () => damaged.push(id),
        )
        if (block === null) continue
        for (let i = block.t.length - 1; i >= 0 && rows.length < limit; i--) {
          rows.push({
            boot: block.boot[i]!,
            seq: block.seq[i]!,
            at: block.at[i]!,
            arrivedAt: block.arrivedAt[i]!,
            placedBy: PLACED_BY[block.placedBy[i]!]!,
            flags: block.flags[i]!,
          })
        }
        if (rows.length >= limit) break
      }
      return { rows, damaged }
    },
    close: (): void => db.close(),
  }
}

export type ReaderApi = ReturnType<typeof openReader>

serve<{ readonly file: string }>(({ file }) => openReader(file))
