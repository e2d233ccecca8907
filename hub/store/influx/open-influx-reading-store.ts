import { randomUUID } from 'node:crypto'
import { HubError } from '../../errors.ts'
import { latestOf } from '../sqlite/latest-columns.ts'
import { packBatch } from '../sqlite/packed-intake.ts'
import { openDamage, readPast } from '../sqlite/open-damage.ts'
import { openUpkeep } from '../sqlite/open-upkeep.ts'
import { startRemote } from '../sqlite/remote.ts'
import { startForwarder } from './forwarder.ts'
import { readBack } from './read-back.ts'
import type { Clock } from '../../model/clock.ts'
import type { BucketQuery, Buckets } from '../../model/series.ts'
import type { ReadingStore, Settled } from '../reading-store.ts'
import { hearWriter, type StoreWatch } from '../sqlite/open-reading-store.ts'
import type { ReaderApi } from '../sqlite/reading-reader.ts'
import type { WriterApi, WriterData } from '../sqlite/reading-writer.ts'
import type { ForwarderState } from './forwarder.ts'
import type { Delivery } from './undelivered.ts'
import type { Misplaced } from './read-back.ts'
import type { InfluxTarget } from './influx-client.ts'
import type { InfluxWorkerApi, InfluxWorkerData, Standing } from './influx-worker.ts'

export interface InfluxStoreWatch extends StoreWatch {
  /** InfluxDB cannot be reached or refuses (once for each reason; it is tried again and again), or is back. */
  readonly onForwarding: (state: ForwarderState) => void
  readonly clock: Clock
  /** Longest wait for an answer of InfluxDB, ms. @default 10000 */
  readonly timeoutMs?: number
}

/** So long a start waits for InfluxDB; then it goes on without, and with what is on the disk. */
const FIRST_WAIT = 10_000

/** It has to be sent everything. */
const LACKING: readonly Standing[] = ['empty', 'behind', 'other']

/** What a promise resolves to, or false after some time. */
async function within(ms: number, promise: Promise<boolean>): Promise<boolean> {
  const late = Promise.withResolvers<boolean>()
  const timer = setTimeout(() => late.resolve(false), ms)
  try {
    return await Promise.race([promise, late.promise])
  } finally {
    clearTimeout(timer)
  }
}

const misplaced = (target: InfluxTarget, { readings, why }: Misplaced): HubError =>
  new HubError(
    'HUB_STORE_UNAVAILABLE',
    `InfluxDB at ${target.url} holds ${readings} ${readings === 1 ? 'reading' : 'readings'} at other moments than ` +
      `the data folder, and does not let the hub delete them (${why}). They stay there as they are.`,
    { retry: false },
  )

/**
 * Readings in an InfluxDB. What is appended is first committed to the SQLite file, with everything that says which
 * readings there are; that commit is what is acknowledged. From there it is sent on, and answers for hours, days and
 * single values are InfluxDB's, together with what has not reached it yet.
 *
 * While it is away, readings are taken as ever, `buckets` rejects with HUB_STORE_UNAVAILABLE, and `forwarding` says
 * how many wait and since when. A folder that is new, or older than what InfluxDB holds, first reads back what it
 * does not know; until then nothing is settled.
 */
export async function openInfluxReadingStore(
  file: string,
  target: InfluxTarget,
  watch: InfluxStoreWatch,
): Promise<ReadingStore> {
  const listeners = new Set<(settled: Settled) => void>()
  const { onDeath, onForwarding, clock } = watch
  const onEvent = hearWriter(watch, (settled) => {
    for (const listener of listeners) listener(settled)
    forwarder.touch()
  })
  const opened: { close(): Promise<void> }[] = []
  const closeAll = async (): Promise<void> => {
    // The writer was first and is last: who closes last takes the write-ahead log away.
    for (const one of opened.toReversed()) await one.close()
  }
  const start = async () => {
    const writer = await startRemote<WriterApi, WriterData>(
      new URL('../sqlite/reading-writer.ts', import.meta.url),
      { file, forward: true, held: true },
      { onDeath, onEvent },
    )
    opened.push(writer)
    const reader = await startRemote<ReaderApi>(
      new URL('../sqlite/reading-reader.ts', import.meta.url),
      { file },
      { onDeath },
    )
    opened.push(reader)
    const influx = await startRemote<InfluxWorkerApi, InfluxWorkerData>(
      new URL('./influx-worker.ts', import.meta.url),
      { file, target, timeoutMs: watch.timeoutMs },
      // A sending is held until it is confirmed.
      { onDeath, youngMb: 24 },
    )
    opened.push(influx)
    await writer.call('tryRefused', [])
    return { writer, reader, influx, found: await writer.call('folderMemory', []) }
  }
  const { writer, reader, influx, found } = await start().catch(async (error: unknown) => {
    await closeAll()
    throw error
  })
  let { folder } = found
  let held = true
  const release = async (): Promise<void> => {
    held = false
    await writer.call('release', [])
  }

  /** What is being read back; null: nothing. */
  let reading: string | null = null
  /** Everything that is here and was not sent yet, put into the queue while what waits there is being sent. */
  const sendAll = async (name: string): Promise<void> => {
    // As much as goes in one sending, with room between for what comes in.
    const queueSome = async (): Promise<boolean> => {
      let more = true
      for (let i = 0; i < 2 && more; i++) more = await writer.call('queueSome', [])
      return more
    }
    for (let more = true; ;) {
      const [queued, delivery]: [boolean, Delivery | null] = await Promise.all([
        more ? queueSome() : Promise.resolve(false),
        influx.call('forward', [name, clock()]),
      ])
      if (delivery !== null) await writer.call('delivered', [delivery])
      else if (!more) return
      more = queued
    }
  }
  const forwarder = startForwarder({
    writer,
    influx,
    clock,
    onState: onForwarding,
    onFatal: onDeath as (error: Error) => void,
    folder: () => folder ?? '',
    async begin() {
      const memory = await writer.call('folderMemory', [])
      const standing = await influx.call('standing', [folder])
      const strange = standing === 'ahead' || standing === 'other'
      const ahead = strange || (memory.copied && standing !== 'empty')
      // What was broken off goes on where it was, if what was sent so far is there.
      const goesOn = memory.sendingAll !== null && standing === 'known' && !memory.copied
      const all =
        folder === null || LACKING.includes(standing) || (memory.sendingAll !== null && !goesOn)
      // Nothing that is there must be taken for new here.
      if (ahead) {
        await writer.call('hold', [])
        reading = 'What InfluxDB holds is being read back.'
        const onProbe = (i: number, of: number): void => {
          reading = `What InfluxDB holds is being read back (probe ${i} of ${of}).`
        }
        const left = await readBack({ writer, influx, onProbe }).finally(() => (reading = null))
        if (left !== null) watch.onTrouble(misplaced(target, left))
      }
      if (ahead || all) {
        const name = randomUUID()
        await influx.call('announce', [name, clock()])
        await writer.call('setFolder', [name, all && memory.any])
        folder = name
      }
      if (folder !== null && (goesOn || (all && memory.any))) await sendAll(folder)
      await release()
    },
  })
  forwarder.touch()
  // A folder that knows its readings need not wait for what a look at InfluxDB tells, unless it is a copy.
  const known = (found.folder !== null || found.any) && !found.copied
  const begun = await within(FIRST_WAIT, forwarder.firstTry())
  if (!begun && known && reading === null) await release()
  if (!held) await writer.call('settle', [])

  const upkeep = openUpkeep(file, writer)
  const here = readPast({ reader, writer })
  const damage = openDamage({ reader, writer })
  /** InfluxDB is asked; else the folder answers. */
  const answers = (): boolean => forwarder.begun() && forwarder.state().state === 'up'
  /** Readings that have become hours in the folder are whole in InfluxDB alone. */
  const refuseThinned = async (queries: readonly BucketQuery[]): Promise<void> => {
    if (!queries.some(({ step }) => step === 'raw')) return
    const thinned = await upkeep.thinnedTo()
    const gone = queries.some(
      ({ probe, from, step }) => step === 'raw' && from < (thinned.get(probe) ?? -Infinity),
    )
    if (!gone) return
    const why = forwarder.state().problem
    throw new HubError(
      'HUB_STORE_UNAVAILABLE',
      `Single readings this old are in InfluxDB alone, which is away${why === null ? '.' : ` (${why})`}`,
      { retry: true },
    )
  }

  /**
   * Answers of InfluxDB; hours and days of what has become hours in the folder are taken from there: readings that had
   * before they were ever sent are in no database.
   */
  const answered = async (queries: readonly BucketQuery[]): Promise<readonly Buckets[]> => {
    const rolled = queries.some(({ step }) => step !== 'raw')
    const thinned = rolled ? await upkeep.thinnedTo() : new Map<string, number>()
    const isOwn = ({ probe, from, step }: BucketQuery): boolean =>
      step !== 'raw' && from < (thinned.get(probe) ?? -Infinity)
    const own = queries.filter(isOwn)
    if (own.length === 0) return influx.call('buckets', [queries])
    await writer.call('settle', [])
    const [folders, influxes] = await Promise.all([
      here.buckets(own),
      influx.call('buckets', [queries.filter((query) => !isOwn(query))]),
    ])
    const parts = { folder: folders.values(), influx: influxes.values() }
    return queries.map((query) => parts[isOwn(query) ? 'folder' : 'influx'].next().value!)
  }

  return {
    async append(batch) {
      const packed = packBatch(batch)
      await writer.call('append', [packed], [packed.intake.buffer])
    },
    settle: () => writer.call('settle', []),
    onSettled(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    async buckets(queries) {
      if (answers()) {
        try {
          return await answered(queries)
        } catch (error) {
          if (!(error instanceof HubError) || !error.retry) throw error
          forwarder.failed(error)
        }
      }
      // What the folder holds is all there is, but for a folder that has not been told yet what is there.
      if (held) {
        throw new HubError(
          'HUB_STORE_UNAVAILABLE',
          reading ?? forwarder.state().problem ?? 'What InfluxDB holds is not known yet.',
          { retry: true },
        )
      }
      await writer.call('settle', [])
      await refuseThinned(queries)
      return here.buckets(queries)
    },
    latest: latestOf(reader),
    recall: (probe, boot) => writer.call('recall', [probe, boot]),
    quarantine: (limit) => reader.call('quarantine', [limit]),
    counts: () => reader.call('counts', []),
    damaged: () => reader.call('damaged', []),
    damage: {
      ...damage,
      // Every reading that was kept went to InfluxDB, or waits as the line it goes there with: it is whole there. Hours
      // that stand for readings are in the folder alone.
      within: async (probes, from, to) =>
        (await damage.within(probes, from, to)).filter(
          ({ what }) => what === 'hours' || !answers(),
        ),
    },
    async accounts(probe) {
      await writer.call('settle', [])
      return reader.call('accounts', [probe])
    },
    newest: (probe, limit) => here.newest(probe, limit),
    async prune(before) {
      await writer.call('settle', [])
      return forwarder.pause(async () => {
        // There first: what would be left there could not be named from here any more.
        await influx.call('deleteBefore', [before])
        await writer.call('pruneUndelivered', [before])
        let gone = 0
        for (;;) {
          const some = await writer.call('prune', [before])
          if (some === 0) return gone
          gone += some
        }
      })
    },
    upkeep: {
      ...upkeep,
      // What becomes hours here stays whole there, and is read from there as long as it can be reached.
      thinnedTo: async () => (answers() ? new Map() : upkeep.thinnedTo()),
    },
    // InfluxDB makes hours and days when they are asked for.
    rebuild: async () => ({ days: 0, of: 0 }),
    async forwarding() {
      const queue = await influx.call('queue', [])
      const state = forwarder.state()
      return {
        ...state,
        ...(reading === null ? {} : { state: 'down', problem: reading }),
        ...queue,
      }
    },
    async close() {
      const ended = forwarder.stop()
      // What is on its way is broken off, and goes again at the next start.
      await influx.close()
      await ended
      await closeAll()
    },
  }
}
