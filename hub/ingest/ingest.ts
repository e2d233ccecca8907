import { HubError } from '../errors.ts'
import type { Clock } from '../model/clock.ts'
import type { Order } from '../model/order.ts'
import { PLAIN_BOOT } from '../model/reading.ts'
import type { Anchor, Quarantined, Reading } from '../model/reading.ts'
import type { GardenStore } from '../store/garden-store.ts'
import type { ReadingStore } from '../store/reading-store.ts'
import { decode, encodeTime, HUB_LIMIT_BYTES } from '../wire/payload.ts'
import type { Decoded } from '../wire/payload.ts'
import { formatTopic } from '../wire/topic.ts'
import { acknowledge, createAckRule } from './acknowledge.ts'
import { askAfterMs } from './ask-again.ts'
import { openBoot } from './boot-book.ts'
import type { Boot } from './boot-book.ts'
import { createStateKeeper } from './front.ts'
import type { FrontState, IngestLog } from './front.ts'
import { createHearing } from './hearing.ts'
import { createOrders } from './orders.ts'
import type { Orders } from './orders.ts'
import { createWishes } from './wishes.ts'
import { plainReading, readingOf, rowsOf } from './readings-of.ts'

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
   * Resolves once everything in the batch is durable, to what the hub answers. One call at a time; further
   * calls wait. While a store is down it keeps trying, and nothing is acknowledged meanwhile.
   *
   * @throws HubError when it was stopped, or when trying again cannot help
   */
  ingest(batch: readonly Arrival[]): Promise<readonly Downlink[]>
  /** `down` while a store refuses. */
  state(): FrontState
  onState(listener: (state: FrontState) => void): () => void
  tally(): IngestTally
  /** What the hub wants of probes. */
  readonly orders: Orders
  /** Ends waiting for a store; what was not committed is not acknowledged. */
  stop(): void
}

/** Boots kept in memory; others are recalled from the store when they speak again. */
const BOOTS_IN_MEMORY = 4000
/** The answer of a probe that no longer holds what it is asked for. */
const GONE = 'gone'

export function createIngest(deps: IngestDeps): Ingest {
  const { readings, clock, log } = deps
  const retryMs = deps.retryMs ?? [100, 300, 1000, 3000, 10_000]
  const store = createStateKeeper({ state: 'up', problem: null }, clock)
  const hearing = createHearing(deps.garden, deps.maxStrangers ?? 50)
  const orders = createOrders(deps.garden)
  const wishes = createWishes({
    garden: deps.garden,
    orders,
    clock,
    askAfterMs: deps.askAfterMs ?? askAfterMs,
    lasting,
  })
  const boots = new Map<string, Boot>()
  const warned = new Set<string>()
  const tally = { messages: 0, retainedIgnored: 0, quarantined: 0 }
  const stopping = new AbortController()
  let tail: Promise<unknown> = Promise.resolve()

  /** Repeats until the store takes it. */
  async function lasting<T>(work: () => Promise<T>): Promise<T> {
    for (let attempt = 0; ; attempt++) {
      try {
        const result = await work()
        if (store.get().state !== 'up') log.info('the store takes readings again')
        store.set('up', null)
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
        await pause(retryMs[Math.min(attempt, retryMs.length - 1)] ?? 1000, stopping.signal, error)
      }
    }
  }

  async function bootOf(probe: string, boot: number): Promise<Boot> {
    const key = `${probe}/${boot}`
    let found = boots.get(key)
    if (found === undefined) {
      found = openBoot(probe, boot, await lasting(() => readings.recall(probe, boot)))
    } else boots.delete(key)
    boots.set(key, found)
    return found
  }

  async function work(batch: readonly Arrival[]): Promise<readonly Downlink[]> {
    const quarantined: Quarantined[] = []
    const aside = (arrival: Arrival, reason: string, alike?: string): void => {
      const { arrivedAt, topic, payload } = arrival
      // A copy: the payload is a window on a whole socket read.
      const kept = new Uint8Array(payload.subarray(0, HUB_LIMIT_BYTES))
      quarantined.push({ arrivedAt, topic, payload: kept, reason })
      warnOnce(topic, reason, alike)
    }

    const usable: { arrival: Arrival; message: Decoded }[] = []
    for (const arrival of batch) {
      const message = decode(arrival.topic, arrival.payload)
      if (arrival.refused !== undefined) aside(arrival, arrival.refused)
      else if ('problems' in message)
        aside(arrival, message.problems.map((p) => `${p.message} [${p.clause}]`).join('; '))
      else if (isDownward(message))
        aside(arrival, `topic: only the hub writes ${arrival.topic} [LM-30]`)
      else if (arrival.retain && !isDescription(message)) tally.retainedIgnored++
      else {
        for (const note of message.notes)
          warnOnce(arrival.topic, `${note.message} [${note.clause}]`)
        usable.push({ arrival, message })
      }
    }

    const { refused, heard } = await lasting(() => hearing.hear(usable))
    const touched = new Set<Boot>()
    const acks = createAckRule()
    const taken: Reading[] = []
    const anchors: Anchor[] = []
    const times = new Set<string>()
    /** Boots whose probe is there at this moment, and since when. */
    const present = new Map<Boot, number>()
    const answered = new Set<string>()

    for (const item of usable) {
      const { arrival, message } = item
      const reason = refused(item)
      if (reason !== null) {
        // A flood of ids is one line in the log, not one each.
        aside(arrival, reason, reason.replace(message.probe, ''))
        continue
      }
      const { probe } = message
      const { arrivedAt } = arrival
      if (message.kind === 'reading') {
        const boot = await bootOf(probe, message.body.b)
        const { reading, isAnchor } = readingOf(message, arrival, boot.anchors)
        taken.push(reading)
        if (isAnchor) anchors.push(...boot.anchor({ uptimeS: message.body.u, at: arrivedAt }))
        boot.ledger.take(reading.seq)
        acks.reading(boot, arrivedAt)
        touch(boot, arrivedAt)
        if (!arrival.mayBeDelayed) present.set(boot, arrivedAt)
      } else if (message.kind === 'batch') {
        const boot = await bootOf(probe, message.body.b)
        const sender = message.body.nb === undefined ? boot : await bootOf(probe, message.body.nb)
        if (!arrival.mayBeDelayed)
          anchors.push(...sender.anchor({ uptimeS: message.body.u, at: arrivedAt }))
        const rows = rowsOf(message, arrival, boot.anchors, sender.anchors)
        boot.ledger.startAt(rows[0]?.seq ?? 0)
        for (const row of rows) boot.ledger.take(row.seq)
        taken.push(...rows)
        acks.batch(boot, boot === sender, arrivedAt)
        touch(boot, arrivedAt)
      } else if (message.kind === 'plain') {
        const boot = await bootOf(probe, PLAIN_BOOT)
        const reading = plainReading(message, arrival, boot.ledger.top + 1)
        taken.push(reading)
        boot.ledger.take(reading.seq)
        touch(boot, arrivedAt)
      } else if (message.kind === 'state' && !arrival.retain) {
        const { s, b, u } = message.body
        if (s === 'off') continue
        const boot = await bootOf(probe, b)
        if (u !== undefined && !arrival.mayBeDelayed)
          anchors.push(...boot.anchor({ uptimeS: u, at: arrivedAt }))
        touch(boot, arrivedAt)
        if (s !== 'on') continue
        acks.on(boot, arrivedAt)
        times.add(probe)
      } else if (message.kind === 'result') {
        const { body } = message
        const order = await lasting(() => orders.answered(probe, body, arrivedAt))
        if (order === null) continue
        answered.add(probe)
        if (body.ok) continue
        if (order.kind === 'resend' && body.e === GONE) {
          const boot = await bootOf(probe, order.boot)
          boot.ledger.startAt(order.from + order.count)
          acks.on(boot, arrivedAt)
          touch(boot, arrivedAt)
        } else
          log.warn(`${probe} refused ${wordsOf(order)}${body.e === undefined ? '' : `: ${body.e}`}`)
      } else if (message.kind === 'birth' && message.body.cv !== undefined) {
        const { cv } = message.body
        if ((await lasting(() => orders.inForce(probe, cv, arrivedAt))) !== null)
          answered.add(probe)
      }
    }

    function touch(boot: Boot, at: number): void {
      boot.lastAt = Math.max(boot.lastAt, at)
      touched.add(boot)
    }

    const marks = Array.from(touched, (boot) => boot.mark())
    if (taken.length + anchors.length + marks.length + quarantined.length > 0)
      await lasting(() => readings.append({ readings: taken, anchors, marks, quarantined }))
    tally.messages += batch.length
    tally.quarantined += quarantined.length
    forgetOldest()
    if (heard.length > 0) deps.onHeard?.(heard)

    if (answered.size > 0) for (const probe of answered) deps.onAnswer?.(probe)

    const now = Math.floor(clock() / 1000)
    return [
      ...acknowledge(acks),
      ...Array.from(times, (probe) => ({
        topic: formatTopic({ to: 'probe', probe, leaf: 'time' }),
        payload: encodeTime({ t: now }),
        retain: false,
      })),
      ...(await wishes.told(times, present)),
    ]
  }

  /** The oldest entries of a Map come first; a boot that speaks moves to the end. */
  function forgetOldest(): void {
    for (const key of boots.keys()) {
      if (boots.size <= BOOTS_IN_MEMORY) return
      boots.delete(key)
    }
  }

  /** What repeats itself is reported once; the quarantine counts the rest. `alike`: what makes it the same. */
  function warnOnce(topic: string, reason: string, alike = `${topic} ${reason}`): void {
    const key = alike.replaceAll(/\d+/g, '#')
    if (warned.has(key)) return
    if (warned.size >= 1000) warned.clear()
    warned.add(key)
    log.warn(`${topic}: ${reason}`)
  }

  return {
    ingest(batch) {
      const result = tail.then(async () => {
        if (stopping.signal.aborted) throw stopped()
        try {
          return await work(batch)
        } catch (error) {
          // Bookkeeping in memory may be ahead of the store now: it is recalled anew.
          boots.clear()
          hearing.forget()
          orders.forget()
          throw error
        }
      })
      tail = result.catch(() => {})
      return result
    },
    state: store.get,
    onState: store.onState,
    tally: () => ({ ...tally }),
    orders,
    stop: () => stopping.abort(),
  }
}

function wordsOf(order: Order): string {
  if (order.kind === 'settings') return 'settings'
  return order.kind === 'command' ? order.what : 'to send readings again'
}

function isDownward(message: Decoded): boolean {
  return (
    message.kind === 'ack' ||
    message.kind === 'cfg' ||
    message.kind === 'cmd' ||
    message.kind === 'time'
  )
}

function isDescription(message: Decoded): boolean {
  return message.kind === 'state' || message.kind === 'birth' || message.kind === 'channel'
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
