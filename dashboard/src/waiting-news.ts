import type { Waiting } from './waiting-store.ts'

const KEPT = 'loamline waiting'

/** What waits on this device, as far as this page has been told. */
const listeners = new Set<(items: readonly Waiting[]) => void>()

export function tellWaiting(items: readonly Waiting[]): void {
  try {
    if (items.length > 0) localStorage.setItem(KEPT, String(items.length))
    else localStorage.removeItem(KEPT)
  } catch {
    // Without storage `mayWait` says yes, and it is looked up.
  }
  for (const listener of listeners) listener(items)
}

export function onWaiting(listener: (items: readonly Waiting[]) => void): () => void {
  listeners.add(listener)
  return () => listeners.delete(listener)
}

/** Whether anything may wait: with nothing there the page does without the code that would send it. */
export function mayWait(): boolean {
  try {
    return localStorage.getItem(KEPT) !== null
  } catch {
    return true
  }
}
