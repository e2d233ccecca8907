import type { HubError } from '../../errors.ts'
import { DAY } from '../../model/clock.ts'
import { fromFault } from './fault.ts'
import { latestOf } from './latest-columns.ts'
import { openDamage, readPast } from './open-damage.ts'
import { openUpkeep } from './open-upkeep.ts'
import { packBatch } from './packed-intake.ts'
import { startRemote } from './remote.ts'
import type { ReadingStore, Settled } from '../reading-store.ts'
import type { ReaderApi } from './reading-reader.ts'
import type { WriterApi, WriterData, WriterEvent } from './reading-writer.ts'

/** Days of one series made anew in one transaction: some milliseconds, then the next readings have their turn. */
const REBUILD_DAYS = 30

/** Told of what happens to a store outside any call. */
export interface StoreWatch {
  /** A thread of the store died; every call rejects from now on. */
  readonly onDeath: (error: HubError) => void
  /** Something failed that is tried again by itself (the disk is full, for one). */
  readonly onTrouble: (error: HubError) => void
  /** Readings were met damaged and put aside; everything else goes on. @default onTrouble */
  readonly onDamage?: (error: HubError) => void
}

/** Hands on what the writing thread tells without being asked. */
export function hearWriter(
  { onTrouble, onDamage = onTrouble }: StoreWatch,
  onSettled: (settled: Settled) => void,
): (event: unknown) => void {
  return (raw) => {
    const event = raw as WriterEvent
    if (event.kind === 'settled') onSettled(event.settled)
    else {
      const tell = event.kind === 'damage' ? onDamage : onTrouble
      tell(fromFault(event.fault) as HubError)
    }
  }
}

/**
 * Readings in one SQLite file: one thread writes, one reads, the caller's never waits for the disk.
 * Resolves once everything acknowledged earlier is visible.
 *
 * Readings whose time is only bounded (`placedBy: 'bounded'`) are kept, de-duplicated and counted like
 * the others, but stand apart: no bucket of any step and no latest value comes from them. A time given
 * with a fraction is rounded to a millisecond, and a second reading of the same probe and millisecond
 * moves to the next free one; the time as given is kept beside it.
 *
 * `counts().readings` and `.duplicates` count what is settled; the others what is appended.
 */
export async function openReadingStore(
  file: string,
  watch: StoreWatch,
  options: Pick<WriterData, 'forward'> = {},
): Promise<ReadingStore> {
  const listeners = new Set<(settled: Settled) => void>()
  const onEvent = hearWriter(watch, (settled) => {
    for (const listener of listeners) listener(settled)
  })
  const { onDeath } = watch
  const writer = await startRemote<WriterApi, WriterData>(
    new URL('./reading-writer.ts', import.meta.url),
    { file, ...options },
    { onDeath, onEvent },
  )
  const openReader = async () => {
    await writer.call('settle', [])
    return startRemote<ReaderApi>(
      new URL('./reading-reader.ts', import.meta.url),
      { file },
      { onDeath },
    )
  }
  const reader = await openReader().catch(async (error: unknown) => {
    await writer.close()
    throw error
  })

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
    ...readPast({ reader, writer }),
    latest: latestOf(reader),
    recall: (probe, boot) => writer.call('recall', [probe, boot]),
    quarantine: (limit) => reader.call('quarantine', [limit]),
    counts: () => reader.call('counts', []),
    damaged: () => reader.call('damaged', []),
    damage: openDamage({ reader, writer }),
    async accounts(probe) {
      await writer.call('settle', [])
      return reader.call('accounts', [probe])
    },
    async prune(before) {
      await writer.call('settle', [])
      let gone = 0
      for (;;) {
        const some = await writer.call('prune', [before])
        if (some === 0) return gone
        gone += some
      }
    },
    async rebuild({ signal, tell } = {}) {
      await writer.call('settle', [])
      const spans = await writer.call('spans', [])
      const daysOf = (span: { from: number; to: number }): number => (span.to - span.from) / DAY
      const of = spans.reduce((sum, span) => sum + daysOf(span), 0)
      let days = 0
      const goOn = (): boolean => signal?.aborted !== true
      for (const span of spans) {
        if (!goOn()) break
        await writer.call('trimSpan', [span])
        for (let { from } = span; from < span.to && goOn();) {
          const to = Math.min(span.to, from + REBUILD_DAYS * DAY)
          await writer.call('rebuildDays', [{ probe: span.probe, from, to }])
          days += (to - from) / DAY
          from = to
          tell?.(days / of)
        }
      }
      return { days, of }
    },
    forwarding: async () => null,
    upkeep: openUpkeep(file, writer),
    async close() {
      // The last to close takes the write-ahead log away, which a reader cannot.
      try {
        await reader.close()
      } finally {
        await writer.close()
      }
    },
  }
}
