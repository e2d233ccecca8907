import { setImmediate } from 'node:timers/promises'
import { DAY } from '../model/clock.ts'
import { simulateGarden } from '../simulator/garden-simulation.ts'
import type { Scenario } from '../simulator/scenario.ts'
import { probeHistory, type Delivered } from './probe-history.ts'

/** A message as it reaches the hub. */
export interface HistoryArrival {
  readonly topic: string
  readonly payload: Uint8Array
  readonly retain: boolean
  readonly arrivedAt: number
  readonly mayBeDelayed: boolean
}

const BATCH = 1000
const WINDOW_MS = DAY
const utf8 = new TextEncoder()

/** All messages of all adopted probes up to `until`, ascending in arrival. */
export function* historyArrivals(
  scenario: Scenario,
  until: number,
): Generator<HistoryArrival, void, undefined> {
  const garden = simulateGarden(scenario)
  const sources = scenario.probes
    .filter((probe) => probe.adopted)
    .map((probe) => {
      const messages = probeHistory(scenario, garden.probe(probe.id))
      return { messages, next: messages.next() }
    })
  for (let from = scenario.start; from < until; from += WINDOW_MS) {
    const to = Math.min(until, from + WINDOW_MS)
    const due: Delivered[] = []
    for (const source of sources) {
      while (source.next.done !== true && source.next.value.arrivedAt < to) {
        due.push(source.next.value)
        source.next = source.messages.next()
      }
    }
    due.sort((a, b) => a.arrivedAt - b.arrivedAt)
    for (const one of due) {
      yield {
        topic: one.topic,
        payload: utf8.encode(one.payload),
        // Delivered as it was published: only what a broker repeats later counts as retained.
        retain: false,
        arrivedAt: one.arrivedAt,
        mayBeDelayed: false,
      }
    }
  }
}

/**
 * Sends the whole history through the same intake that MQTT uses, in the order it would have arrived.
 *
 * @returns how many messages were sent
 */
export async function loadHistory(options: {
  ingest: (batch: readonly HistoryArrival[]) => Promise<unknown>
  scenario: Scenario
  /** Epoch ms; nothing later is sent. */
  now: number
  /** Called with the share that is done, 0 to 1. */
  onProgress?: (done: number) => void
}): Promise<number> {
  const { ingest, scenario, now, onProgress } = options
  let batch: HistoryArrival[] = []
  let sent = 0
  let committing: Promise<unknown> = Promise.resolve()
  const send = async (): Promise<void> => {
    const arrivals = batch
    batch = []
    // While one batch is committed the next one is simulated; never more than that.
    await committing
    committing = ingest(arrivals)
    // A failure is met at the next await; until then it must not count as unhandled.
    committing.catch(() => {})
    sent += arrivals.length
    const reached = arrivals.at(-1)?.arrivedAt ?? now
    onProgress?.(Math.min(1, (reached - scenario.start) / (now - scenario.start)))
    await setImmediate()
  }
  for (const arrival of historyArrivals(scenario, now)) {
    batch.push(arrival)
    if (batch.length === BATCH) await send()
  }
  if (batch.length > 0) await send()
  await committing
  onProgress?.(1)
  return sent
}
