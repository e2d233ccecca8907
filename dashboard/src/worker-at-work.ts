import { allKept } from './kept-answers.ts'
import { tellWorkerNews } from './worker-news.ts'

/** A dashboard that stands open for weeks asks now and then whether there is a newer one. */
const LOOK_EVERY_MS = 3_600_000

function watchForNext(registration: ServiceWorkerRegistration): void {
  const ready = (worker: ServiceWorker): void => {
    // The first worker of a browser has no page to take over from.
    if (navigator.serviceWorker.controller === null) return
    tellWorkerNews({ takeOver: () => worker.postMessage('take over') })
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
    tellWorkerNews({ state: window.isSecureContext ? 'none' : 'not secure' })
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
    tellWorkerNews({ state: 'at work' })
  } catch {
    tellWorkerNews({ state: 'none' })
    await fetchAhead()
  }
}
