import { useEffect, useState } from 'preact/hooks'
import type { WaitingQueue } from './waiting.ts'
import { mayWait, onWaiting } from './waiting-news.ts'
import type { Waiting } from './waiting-store.ts'

let opened: Promise<WaitingQueue> | null = null
/** What waits on this device; one for the whole page. */
export function waitingQueue(): Promise<WaitingQueue> {
  opened ??= import('./open-waiting.ts').then(({ openWaiting }) => openWaiting())
  return opened
}

/** Sends what waits, if anything does. */
export async function sendWaiting(): Promise<void> {
  if (opened === null && !mayWait()) return
  const queue = await waitingQueue()
  await (await import('./open-waiting.ts')).sendFrom(queue)
}

/** What waits on this device, oldest first. */
export function useWaiting(): readonly Waiting[] {
  const [items, setItems] = useState<readonly Waiting[]>([])
  useEffect(() => {
    const off = onWaiting(setItems)
    if (opened !== null || mayWait()) {
      void waitingQueue()
        .then((queue) => queue.items())
        .then(setItems)
    }
    return off
  }, [])
  return items
}
