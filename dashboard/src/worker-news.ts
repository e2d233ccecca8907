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

export function tellWorkerNews(change: Partial<WorkerNews>): void {
  news = { ...news, ...change }
  for (const listener of listeners) listener()
}
export const workerNews = (): WorkerNews => news
export function onWorkerNews(listener: () => void): () => void {
  listeners.add(listener)
  return () => listeners.delete(listener)
}
