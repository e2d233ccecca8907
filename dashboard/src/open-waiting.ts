import { api } from './api.ts'
import { createWaiting } from './waiting.ts'
import type { WaitingQueue } from './waiting.ts'
import { tellWaiting } from './waiting-news.ts'
import { openWaitingStore } from './waiting-store.ts'
import type { Waiting } from './waiting-store.ts'

/** A hub that is out of reach often does not refuse; after this long it counts as away. */
const PATIENCE_MS = 10_000
const CHANNEL = 'loamline waiting'

/** `crypto.randomUUID` exists on secure pages only, a hub in the home often is not one. */
function newId(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16))
  return [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('')
}

async function send({ id, bedId, what }: Waiting) {
  const sending = { once: id, signal: AbortSignal.timeout(PATIENCE_MS) }
  return what.kind === 'entry'
    ? api.addEntry(bedId, what.body, sending)
    : api.saveValues(bedId, what.body, sending)
}

/** Opens what waits on this device, and follows what other pages of the hub do with it. */
export async function openWaiting(): Promise<WaitingQueue> {
  const others = typeof BroadcastChannel === 'undefined' ? null : new BroadcastChannel(CHANNEL)
  const queue = createWaiting({
    store: await openWaitingStore(),
    send,
    remove: ({ id }) => api.removeEntry(id),
    newId,
    now: Date.now,
    onChange: (items) => {
      tellWaiting(items)
      others?.postMessage(null)
    },
  })
  others?.addEventListener('message', () => void queue.items().then(tellWaiting))
  tellWaiting(await queue.items())
  return queue
}

/** Sends what waits; with several pages open one of them does. */
export async function sendFrom(queue: WaitingQueue): Promise<void> {
  // Two pages that send the same store it once all the same; the lock only spares the hub the second.
  if ('locks' in navigator) {
    await navigator.locks.request(CHANNEL, { ifAvailable: true }, async (lock) =>
      lock === null ? undefined : queue.sendAll(),
    )
  } else await queue.sendAll()
}
