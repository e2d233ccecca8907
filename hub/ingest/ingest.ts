import { HubError } from '../errors.ts'
import type { Clock } from '../model/clock.ts'
import type { BootMark, Quarantined } from '../model/reading.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { ReadingStore } from '../store/reading-store.ts'
import { encodeTime } from '../wire/payload.ts'
import { formatTopic } from '../wire/topic.ts'
import { acknowledge } from './acknowledge.ts'
import { askAfterMs } from './ask-again.ts'
import { createBootCache } from './boot-cache.ts'
import { createStateKeeper } from './front.ts'
import type { FrontState, IngestLog } from './front.ts'
import { createHearing } from './hearing.ts'
import { createOrders } from './orders.ts'
import type { Orders } from './orders.ts'
import { sift } from './sift.ts'
import { takeItems } from './take-items.ts'
import type { Taken } from './take-items.ts'
import { createWarnOnce } from './warn-once.ts'
import { createWishes } from './wishes.ts'

/** A message as it came in. */
export interface Arrival {
  readonly topic: string
  readonly payload: Uint8Array
  /** A copy the broker kept, not a message just sent. */
  readonly retain: boolean
  /** Epoch ms. */
  readonly arrivedAt: number
  /** The broker may have held it back while the hub was away. */
  readonly mayBeDelayed: boolean
  /** It arrived a while ago: whoever sent it may have gone to sleep again. @default false */
  readonly isOld?: boolean
  /** Why the front does not take it (a probe writing where it must not); it is kept in quarantine. */
  readonly refused?: string
}

/** A message for a probe. */
export interface Downlink {
  readonly topic: string
  readonly payload: string
  readonly retain: boolean
}

export interface IngestDeps {
  readonly readings: ReadingStore
  readonly garden: GardenStore
  readonly clock: Clock
  /**
   * Probes that may wait unadopted; what others send goes to quarantine.
   * @default 50
   */
  readonly maxStrangers?: number
  /** Probes the garden knows at the start, taken in or waiting. @default none, until they are heard */
  readonly known?: readonly string[]
  /** Probes whose description or state was noted, or that were seen again after a while. */
  readonly onHeard?: (probes: readonly string[]) => void
  /** A probe answered what the hub wanted of it, settings or a command. */
  readonly onAnswer?: (probe: string) => void
  readonly log: IngestLog
  /**
   * How long a hole in a probe's count may stay open before it is asked for what is missing, ms.
   * @default three of its intervals, two minutes at least
   */
  readonly askAfterMs?: (intervalS: number | null) => number
  /**
   * Waits between attempts while a store is down, ms; the last one repeats.
   * @default [100, 300, 1000, 3000, 10000]
   */
  readonly retryMs?: readonly number[]
}

/** What happened since the start of this process. */
export interface IngestTally {
  readonly messages: number
  /** Kept copies of readings and batches: neither readings nor anchors. */
  readonly retainedIgnored: number
  readonly quarantined: number
}

export interface Ingest {
  /**
   * Resolves once everything in the batch is durable, to what the hub answers. Batches are committed in the order
   * in which they are handed in; while one is being committed the next is read. While a store is down it keeps
   * trying, and nothing is acknowledged meanwhile.
   *
   * @throws HubError when it was stopped, or when trying again cannot help
   */
  ingest(batch: readonly Arrival[]): Promise<readonly Downlink[]>
  /** Whether it gains by being handed a batch while the one before is being committed. @default false */
  readonly takesTwo?: boolean
  /** `down` while a store refuses. */
  state(): FrontState
  onState(listener: (state: FrontState) => void): () => void
  tally(): IngestTally
  /** Whether the garden knows a probe: taken in, or one of those that wait for it. @default true */
  knows?(probe: string): boolean
  /** What the hub wants of probes. */
  readonly orders: Orders
  /** Ends waiting for a store; what was not committed is not acknowledged. */
  stop(): void
}

/** A batch that was read: what has to be stored, and what follows from it. */
interface Prepared extends Omit<Taken, 'acks'> {
  readonly age: number
  readonly messages: number
  readonly quarantined: readonly Quarantined[]
  readonly heard: readonly string[]
  readonly marks: readonly BootMark[]
  readonly acks: readonly Downlink[]
}

export function createIngest(deps: IngestDeps): Ingest {
  const { readings, clock, log } = deps
  const retryMs = deps.retryMs ?? [100, 300, 1000, 3000, 10_000]
  const store = createStateKeeper({ state: 'up', problem: null }, clock)
  const hearing = createHearing(deps.garden, deps.maxStrangers ?? 50, deps.known)
  const orders = createOrders(deps.garden)
  const wishes = createWishes({
    garden: deps.garden,
    orders,
    clock,
    askAfterMs: deps.askAfterMs ?? askAfterMs,
    lasting,
  })
  const boots = createBootCache((probe, boot) => lasting(() => readings.recall(probe, boot)))
  const warnOnce = createWarnOnce((message) => log.warn(message))
  const tally = { messages: 0, retainedIgnored: 0, quarantined: 0 }
  const stopping = new AbortController()
  let reading: Promise<unknown> = Promise.resolve()
  let storing: Promise<unknown> = Promise.resolve()
  /** Rises when bookkeeping in memory was thrown away: what was read before it must not be stored. */
  let age = 0
  /** Work that is being tried again at this moment. */
  let struggling = 0
  /** Boots in batches that are read and not stored yet. */
  const underWay = new Set<Prepared>()

  /** Repeats until the store takes it. */
  async function lasting<T>(work: () => Promise<T>): Promise<T> {
    let failed = false
    try {
      for (let attempt = 0; ; attempt++) {
        try {
          const result = await work()
          // As long as something else is refused the store is not up.
          if (struggling === (failed ? 1 : 0)) {
            if (store.get().state !== 'up') log.info('the store takes readings again')
            store.set('up', null)
          }
          return result
        } catch (error) {
          if (!(error instanceof HubError)) throw error
          if (!error.retry) {
            log.warn(`${error.message}; readings are not taken any more`)
            store.set('down', error.message)
            throw error
          }
          if (store.get().state === 'up')
            log.warn(`${error.message}; readings wait unacknowledged until the store is back`)
          store.set('down', error.message)
          if (!failed) struggling++
          failed = true
          const wait = retryMs[Math.min(attempt, retryMs.length - 1)] ?? 1000
          await pause(wait, stopping.signal, error)
        }
      }
    } finally {
      if (failed) struggling--
    }
  }

  /** Reads a batch: what has to be stored for it, and what is to be answered then. */
  async function prepare(batch: readonly Arrival[]): Promise<Prepared> {
    // As it is before the first look into a book: a commit may be given up while this waits for a boot.
    const born = age
    const { usable, quarantined, retainedIgnored, aside } = sift(batch, warnOnce)
    tally.retainedIgnored += retainedIgnored
    const { refused, heard } = await lasting(() => hearing.hear(usable))
    const items = usable.filter((item) => {
      const reason = refused(item)
      // A flood of ids is one line in the log, not one each.
      if (reason !== null) aside(item.arrival, reason, reason.replace(item.message.probe, ''))
      return reason === null
    })
    const taken = await takeItems(items, { boots, orders, log, lasting })
    const marks = Array.from(taken.touched, (boot) => boot.mark())
    // Said as things stand now: the next batch is read before this one is answered.
    const acks = acknowledge(taken.acks)
    return { ...taken, age: born, messages: batch.length, quarantined, heard, marks, acks }
  }

  async function commit(prepared: Prepared): Promise<readonly Downlink[]> {
    const { readings: taken, anchors, marks, quarantined, heard, woke, present } = prepared
    const things = taken.length + anchors.length + marks.length + quarantined.length
    // No reading waits for it.
    hearing.noteSeen().then((seen) => {
      if (seen.length > 0) deps.onHeard?.(seen)
    }, crash)
    if (things > 0)
      await lasting(() => readings.append({ readings: taken, anchors, marks, quarantined }))
    tally.messages += prepared.messages
    tally.quarantined += quarantined.length
    if (heard.length > 0) deps.onHeard?.(heard)
    for (const probe of prepared.answered) deps.onAnswer?.(probe)

    const now = Math.floor(clock() / 1000)
    return [
      ...prepared.acks,
      ...Array.from(woke, (probe) => ({
        topic: formatTopic({ to: 'probe', probe, leaf: 'time' }),
        payload: encodeTime({ t: now }),
        retain: false,
      })),
      ...(await wishes.told(woke, present)),
    ]
  }

  /** Bookkeeping in memory may be ahead of the store now: it is recalled anew. */
  function forget(): void {
    age++
    boots.clear()
    hearing.forget()
    orders.forget()
  }

  return {
    ingest(batch) {
      const prepared = reading.then(async () => {
        if (stopping.signal.aborted) throw stopped()
        try {
          const made = await prepare(batch)
          underWay.add(made)
          return made
        } catch (error) {
          forget()
          throw error
        }
      })
      reading = prepared.catch(() => {})
      const before = storing
      const result = prepared.then(async (made) => {
        await before
        try {
          if (made.age !== age) throw outdated()
          return await commit(made)
        } catch (error) {
          forget()
          throw error
        } finally {
          underWay.delete(made)
          boots.trim((boot) => Array.from(underWay).some(({ touched }) => touched.has(boot)))
        }
      })
      storing = result.catch(() => {})
      return result
    },
    takesTwo: true,
    state: store.get,
    onState: store.onState,
    tally: () => ({ ...tally }),
    knows: (probe) => hearing.knows(probe),
    orders,
    stop: () => stopping.abort(),
  }
}

/** A fault of the hub's own code must end the process, not be swallowed by a promise. */
function crash(error: unknown): void {
  setImmediate(() => {
    throw error
  })
}

function outdated(): HubError {
  const why = 'what came before it was not kept; it is expected again'
  return new HubError('HUB_STORE_UNAVAILABLE', why, { retry: false })
}

function stopped(): HubError {
  return new HubError('HUB_STORE_UNAVAILABLE', 'the hub is stopping', { retry: false })
}

function pause(ms: number, signal: AbortSignal, cause: HubError): Promise<void> {
  return new Promise((resolve, reject) => {
    const giveUp = (): void => {
      clearTimeout(timer)
      reject(
        new HubError(
          'HUB_STORE_UNAVAILABLE',
          `stopped while the store was down: ${cause.message}`,
          {
            retry: false,
            cause,
          },
        ),
      )
    }
    const timer = setTimeout(() => {
      signal.removeEventListener('abort', giveUp)
      resolve()
    }, ms)
    if (signal.aborted) giveUp()
    else signal.addEventListener('abort', giveUp, { once: true })
  })
}
