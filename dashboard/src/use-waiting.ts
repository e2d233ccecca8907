import { useEffect, useState } from 'preact/hooks'
import { api } from './api.ts'
import { createWaiting } from './waiting.ts'
import type { WaitingQueue } from './waiting.ts'
import { openWaitingStore } from './waiting-store.ts'
import type { Waiting } from './waiting-store.ts'

/** A hub that is out of reach often does not refuse; after this long it counts as away. */
const PATIENCE_MS = 10_000
const CHANNEL = 'loamline waiting'

const listeners = new Set<(items: readonly Waiting[]) => void>()
const others = typeof BroadcastChannel === 'undefined' ? null : new BroadcastChannel(CHANNEL)

const tell = (items: readonly Waiting[]): void => {
  for (const listener of listeners) listener(items)
}

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

let opened: Promise<WaitingQueue> | null = null
/** What waits on this device; one for the whole page. */
export function waitingQueue(): Promise<WaitingQueue> {
  opened ??= openWaitingStore().then((store) =>
    createWaiting({
      store,
      send,
      remove: ({ id }) => api.removeEntry(id),
      newId,
      now: Date.now,
      onChange: (items) => {
        tell(items)
        others?.postMessage(null)
      },
    }),
  )
  return opened
}
others?.addEventListener('message', () => {
  void waitingQueue()
    .then((queue) => queue.items())
    .then(tell)
})

/** Sends what waits; with several pages open one of them does. */
export async function sendWaiting(): Promise<void> {
  const queue = await waitingQueue()
  // Two pages that send the same store it once all the same; the lock only spares the hub the second.
  if ('locks' in navigator) {
    await navigator.locks.request(CHANNEL, { ifAvailable: true }, async (lock) =>
      lock === null ? undefined : queue.sendAll(),
    )
  } else await queue.sendAll()
}

/** What waits on this device, oldest first. */
export function useWaiting(): readonly Waiting[] {
  const [items, setItems] = useState<readonly Waiting[]>([])
  useEffect(() => {
    let here = true
    listeners.add(setItems)
    void waitingQueue()
      .then((queue) => queue.items())
      .then((now) => {
        if (here) setItems(now)
      })
    return () => {
      here = false
      listeners.delete(setItems)
    }
  }, [])
  return items
}
