import { useEffect, useState } from 'preact/hooks'
import type { WaitingQueue } from './waiting.ts'
import { mayWait, onWaiting } from './waiting-news.ts'
import type { Waiting } from './waiting-store.ts'

let opened: Promise<WaitingQueue> | null = null
/** What waits on this device; one for the whole page, opened by whoever needs it first. */
export function openedBy(open: () => Promise<WaitingQueue>): Promise<WaitingQueue> {
  opened ??= open().catch((error: unknown) => {
    // The code could not be fetched, say: the next one tries again.
    opened = null
    throw error
  })
  return opened
}
const fetchedQueue = (): Promise<WaitingQueue> =>
  openedBy(async () => (await import('./open-waiting.ts')).openWaiting())

/** Sends what waits, if anything does. Without a connection to fetch the code it is for the next time. */
export async function sendWaiting(): Promise<void> {
  if (opened === null && !mayWait()) return
  const parts = await Promise.all([fetchedQueue(), import('./open-waiting.ts')]).catch(() => null)
  if (parts !== null) await parts[1].sendFrom(parts[0])
}

/** What waits on this device, oldest first. */
export function useWaiting(): readonly Waiting[] {
  const [items, setItems] = useState<readonly Waiting[]>([])
  useEffect(() => {
    const off = onWaiting(setItems)
    if (opened !== null || mayWait()) {
      fetchedQueue()
        .then((queue) => queue.items())
        .then(setItems, () => undefined)
    }
    return off
  }, [])
  return items
}
