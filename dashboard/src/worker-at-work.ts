import { allKept } from './kept-answers.ts'

/** What the browser can do for a page without a connection. */
export type WorkerState =
  /** The pages open without a connection. */
  | 'at work'
  | 'starting'
  /** Browsers keep pages only of addresses with HTTPS, or of the machine itself. */
  | 'not secure'
  /** The browser has no such thing, or it is switched off. */
  | 'none'

interface WorkerNews {
  readonly state: WorkerState
  /** Takes over the version that is ready; null: this is the newest. */
  readonly takeOver: (() => void) | null
}

let news: WorkerNews = { state: 'starting', takeOver: null }
const listeners = new Set<() => void>()
const tell = (change: Partial<WorkerNews>): void => {
  news = { ...news, ...change }
  for (const listener of listeners) listener()
}

export const workerNews = (): WorkerNews => news
export function onWorkerNews(listener: () => void): () => void {
  listeners.add(listener)
  return () => listeners.delete(listener)
}

/** A dashboard that stands open for weeks asks now and then whether there is a newer one. */
const LOOK_EVERY_MS = 3_600_000

function watchForNext(registration: ServiceWorkerRegistration): void {
  const ready = (worker: ServiceWorker): void => {
    // The first worker of a browser has no page to take over from.
    if (navigator.serviceWorker.controller === null) return
    tell({ takeOver: () => worker.postMessage('take over') })
  }
  if (registration.waiting !== null) ready(registration.waiting)
  registration.addEventListener('updatefound', () => {
    const next = registration.installing
    next?.addEventListener('statechange', () => {
      if (next.state === 'installed') ready(next)
    })
  })
  setInterval(() => void registration.update().catch(() => undefined), LOOK_EVERY_MS)
}

/** Without a worker the code of the pages that are needed in the garden is fetched while there is a connection. */
async function fetchAhead(): Promise<void> {
  await Promise.all([
    import('./views/bed.tsx'),
    import('./views/measure.tsx'),
    import('./views/journal.tsx'),
    import('./views/probes.tsx'),
    // What is not here yet is fetched when it is opened.
  ]).catch(() => undefined)
}

/** Starts the worker once the page has what it needs itself. */
export async function startWorker(): Promise<void> {
  if (!window.isSecureContext || !('serviceWorker' in navigator)) {
    tell({ state: window.isSecureContext ? 'none' : 'not secure' })
    return fetchAhead()
  }
  let had = navigator.serviceWorker.controller !== null
  let reloading = false
  navigator.serviceWorker.addEventListener('controllerchange', () => {
    if (reloading) return
    if (!had) {
      had = true
      // What the first page of a browser fetched went by without a worker.
      navigator.serviceWorker.controller?.postMessage({ keep: allKept() })
      return
    }
    reloading = true
    location.reload()
  })
  try {
    watchForNext(await navigator.serviceWorker.register('/worker.js'))
    await navigator.serviceWorker.ready
    tell({ state: 'at work' })
  } catch {
    tell({ state: 'none' })
    await fetchAhead()
  }
}
