import { HubError } from '../../errors.ts'
import { openDatabase, rowOf, rowsOf } from '../sqlite/open-database.ts'
import { Parcel, serve } from '../sqlite/serve.ts'
import { deliver } from './deliver.ts'
import { openInfluxClient } from './influx-client.ts'
import { lifeOf } from './lives.ts'
import { fieldOf } from './names.ts'
import { mergedBuckets } from './merged-buckets.ts'
import { isTimed, LATEST, MEASUREMENTS, momentOf, probeIn, readingOf, valueIn } from './point.ts'
import type { BucketQuery, Buckets } from '../../model/series.ts'
import type { InfluxTarget } from './influx-client.ts'
import type { KeptReading } from '../sqlite/kept-reading.ts'
import type { Measurement } from './point.ts'
import type { Sample, Waiting } from './merged-buckets.ts'
import type { Delivery } from './undelivered.ts'

/** Lines in one sending; about a megabyte. */
const BATCH = 5000
/** Points read back at a time. */
const PAGE = 5000
const HOUR = 3_600_000

/** What waits to be delivered. */
export interface Queue {
  readonly waiting: number
  readonly refused: number
  /** What the server said of the newest it refused. */
  readonly why: string | null
}

/** How a folder and an InfluxDB stand to each other. */
export type Standing =
  /** Nothing of any hub is there. */
  | 'empty'
  /** It holds what this folder sent it. */
  | 'known'
  /** It lacks some of what it confirmed to this folder: it was put back from an older copy. */
  | 'behind'
  /** It holds readings that this folder does not know: the folder is new, or older than what is there. */
  | 'ahead'
  /** It holds such readings, and lacks some of what it confirmed to this folder. */
  | 'other'

/** Some readings of a probe, and where to go on; null when these were the last. */
export interface ReadBack {
  readonly readings: readonly KeptReading[]
  readonly next: number | null
}

export interface InfluxWorkerData {
  readonly file: string
  readonly target: InfluxTarget
  /** Longest wait for an answer, ms. @default 10000 */
  readonly timeoutMs?: number | undefined
}

/** The thread that talks with the InfluxDB; it reads the database and leaves writing to the thread that does. */
function openInfluxWorker({ file, target, timeoutMs }: InfluxWorkerData) {
  const db = openDatabase(file, { readOnly: true, cacheKiB: 8192 })
  const client = openInfluxClient(target, { timeoutMs })

  const findBatch = db.prepare(
    'SELECT i, n, lines FROM undelivered WHERE i > ? ORDER BY i LIMIT 100',
  )
  const findWaiting = db.prepare(
    `SELECT lines FROM undelivered WHERE probe = ?1 AND high >= ?2 AND low < ?3
     UNION ALL SELECT line FROM refused WHERE probe = ?1 AND t >= ?2 AND t < ?3`,
  )
  const findHighest = db.prepare(`SELECT seq FROM sqlite_sequence WHERE name = 'undelivered'`)
  const livedAt = lifeOf(db)
  const findSent = db.prepare(`SELECT said FROM forwarding WHERE name = 'sent'`)
  const findQueue = db.prepare(
    `SELECT (SELECT coalesce(sum(n), 0) FROM undelivered) + (
       SELECT coalesce(sum(readings), 0) FROM log
       WHERE i > (SELECT i FROM cursor WHERE name = 'settled')
     ) AS waiting, (SELECT count(*) FROM refused) AS refused`,
  )
  const findWhy = db.prepare('SELECT why FROM refused ORDER BY t DESC LIMIT 1')

  const waiting: Waiting = ({ probe, channels, from, to }) => {
    const all = new Map<string, Sample[]>(channels.map((channel) => [channel, []]))
    for (const { lines } of rowsOf<{ lines: string }>(findWaiting, probe, from, to)) {
      for (const line of lines.split('\n')) {
        const t = momentOf(line)
        if (t < from || t >= to || !isTimed(line)) continue
        for (const channel of channels) {
          const value = valueIn(line, channel)
          if (value !== undefined) all.get(channel)!.push({ t, value })
        }
      }
    }
    return all
  }
  /** How far a folder has said it would go, and which process of it put that row into the queue. */
  const toldRow = async (
    folder: string,
  ): Promise<{ readonly row: number; readonly life: number | null } | null> => {
    const [found] = await client.query(
      `SELECT max("row") AS "row", "life" FROM "forwarded" WHERE "folder" = $folder`,
      { folder },
    )
    const { row, life } = found ?? {}
    if (typeof row !== 'number') return null
    return { row, life: typeof life === 'number' ? life : null }
  }
  /** How far it came. */
  const toldSent = async (folder: string): Promise<number> => {
    const [found] = await client.query(
      `SELECT max("sent") AS "sent" FROM "forwarded" WHERE "folder" = $folder`,
      { folder },
    )
    const sent = found?.['sent']
    return typeof sent === 'number' ? sent : -1
  }
  /** Whether something is gone there that was confirmed: how far the folder came goes with its readings. */
  const lacks = async (): Promise<boolean> => {
    const said = rowOf<{ said: string }>(findSent)?.said
    if (said === undefined) return false
    const [folder = '', row] = said.split(' ')
    return (await toldSent(folder)) < Number(row)
  }
  let announced = 0
  /** The hour in which a folder says how far it is. */
  const saidAt = (now: number): number => Math.floor(now / HOUR) * HOUR
  /**
   * How far a folder goes, before its readings go: whoever finds less than this in the folder knows that some are
   * missing there.
   */
  const announce = async (folder: string, now: number): Promise<void> => {
    const most = rowOf<{ seq: number }>(findHighest)?.seq ?? 0
    const life = livedAt(most)
    const by = life === null ? '' : `,life=${life}`
    await client.write(`forwarded,folder=${fieldOf(folder)} row=${most}${by} ${saidAt(now)}`)
    announced = most
  }

  interface QueueRow {
    readonly i: number
    readonly n: number
    readonly lines: string
  }
  const nextRows = (): QueueRow[] => {
    const rows: QueueRow[] = []
    for (let [last, n] = [0, 0]; n < BATCH;) {
      const some = rowsOf<QueueRow>(findBatch, last)
      for (const row of some) {
        rows.push(row)
        n += row.n
        last = row.i
        if (n >= BATCH) break
      }
      if (some.length < 100) break
    }
    return rows
  }

  return {
    /**
     * A folder takes its name. From here on it is known there, though nothing may have been sent yet: an outage
     * before the first reading is no reason to send everything anew.
     */
    announce,
    /** Sends the oldest rows that wait; null when none does. `folder` is told first how far it is going. */
    async forward(folder: string, now: number): Promise<Delivery | null> {
      const rows = nextRows()
      const [first, last] = [rows[0], rows.at(-1)]
      if (first === undefined || last === undefined) return null
      if (last.i > announced) await announce(folder, now)
      const lines = rows.flatMap(({ lines: some }) => some.split('\n'))
      const mark = `forwarded,folder=${fieldOf(folder)} sent=${last.i} ${saidAt(now)}`
      const refused = await deliver(client, [...lines, mark])
      const isMark = ({ line }: { readonly line: string }): boolean => line === mark
      return {
        from: first.i,
        to: last.i,
        sent: refused.some(isMark) ? null : `${fieldOf(folder)} ${last.i}`,
        refused: refused
          .filter((one) => !isMark(one))
          .map(({ line, why }) => ({ probe: probeIn(line), t: momentOf(line), line, why })),
      }
    },
    async buckets(queries: readonly BucketQuery[]): Promise<Parcel<Buckets[]>> {
      const answers = await mergedBuckets(client, waiting, queries)
      const buffers = answers.flatMap((b) =>
        [b.time, b.count, b.min, b.mean, b.max, b.median].map(({ buffer }) => buffer),
      )
      return new Parcel(answers, [...new Set(buffers)] as ArrayBuffer[])
    },
    /** Makes the database when it is not there, and tells how this folder stands to what is in it. */
    async standing(folder: string | null): Promise<Standing> {
      await client.ready()
      announced = 0
      const behind = await lacks()
      if (folder !== null) {
        const told = await toldRow(fieldOf(folder))
        if (told !== null) {
          const highest = rowOf<{ seq: number }>(findHighest)?.seq ?? 0
          // Since it was put back it may have reached as many rows as were announced, with others in them.
          const own = told.life === null || told.life === livedAt(told.row)
          if (told.row <= highest && own) return behind ? 'behind' : 'known'
          return behind ? 'other' : 'ahead'
        }
      }
      for (const measurement of MEASUREMENTS) {
        const some = await client.query(`SELECT "_boot" FROM "${measurement}" LIMIT 1`)
        if (some.length > 0) return behind ? 'other' : 'ahead'
      }
      return 'empty'
    },
    /** Every probe that has readings there. */
    async probesThere(): Promise<string[]> {
      const all = new Set<string>()
      for (const measurement of MEASUREMENTS) {
        const rows = await client.query(`SHOW TAG VALUES FROM "${measurement}" WITH KEY = "probe"`)
        for (const { value } of rows)
          if (typeof value === 'string') all.add(decodeURIComponent(value))
      }
      return [...all].sort()
    },
    /** Readings of a probe from a moment on, ascending. */
    async readBack(measurement: Measurement, probe: string, from: number): Promise<ReadBack> {
      const [series] = await client.querySeries(
        `SELECT * FROM "${measurement}" WHERE "probe" = $probe AND time >= ${from}ms ` +
          `ORDER BY time LIMIT ${PAGE}`,
        { probe: fieldOf(probe) },
      )
      const { columns = [], values = [], partial = false } = series ?? {}
      const readings = values.flatMap((row) => {
        const fields = new Map<string, number>()
        columns.forEach((column, i) => {
          const value = row[i]
          if (column !== 'time' && typeof value === 'number') fields.set(column, value)
        })
        return readingOf(row[0] as number, fields) ?? []
      })
      const last = values.at(-1)?.[0] as number | undefined
      return {
        readings,
        next: (values.length < PAGE && !partial) || last === undefined ? null : last + 1,
      }
    },
    /** Empties moments of a probe there: how many of them it did, and why it does no more. */
    async empty(
      measurement: Measurement,
      probe: string,
      moments: readonly number[],
    ): Promise<{ readonly n: number; readonly why: string | null }> {
      const clear = async (t: number, tries: number): Promise<string | null> => {
        try {
          // The name is escaped so that it ends no string; DELETE takes no parameters.
          await client.query(
            `DELETE FROM "${measurement}" WHERE "probe" = '${fieldOf(probe)}' AND time = ${t}ms`,
          )
          return null
        } catch (error) {
          if (!(error instanceof HubError)) throw error
          // It is away, or was; else it refuses.
          await client.ready()
          return tries > 1 ? clear(t, tries - 1) : error.message
        }
      }
      for (const [n, t] of moments.entries()) {
        const why = await clear(t, 2)
        if (why !== null) return { n, why }
      }
      return { n: moments.length, why: null }
    },
    /** Deletes readings before a moment there. */
    async deleteBefore(before: number): Promise<void> {
      for (const measurement of MEASUREMENTS) {
        await client.query(
          `DELETE FROM "${measurement}" WHERE time < ${Math.min(Math.ceil(before), LATEST)}ms`,
        )
      }
    },
    queue(): Queue {
      const { waiting: n, refused } = rowOf<{ waiting: number; refused: number }>(findQueue)!
      return {
        waiting: n,
        refused,
        why: rowOf<{ why: string }>(findWhy)?.why ?? null,
      }
    },
    async close(): Promise<void> {
      await client.close()
      db.close()
    },
  }
}

export type InfluxWorkerApi = ReturnType<typeof openInfluxWorker>

serve<InfluxWorkerData>((data) => openInfluxWorker(data))
