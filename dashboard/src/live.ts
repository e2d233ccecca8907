import type { LiveEvent } from '../../hub/api/schemas/live.ts'
import type { Connection } from './hub-state.ts'

const EVENTS: readonly LiveEvent['event'][] = [
  'bed',
  'beds',
  'alarm',
  'probes',
  'journal',
  'health',
]
const FIRST_WAIT_MS = 1000
const LONGEST_WAIT_MS = 15_000

/**
 * Listens to the hub until the returned function is called. `onState('open')` comes at the first connection
 * and at each one after a loss: then what was missed has to be fetched.
 */
export function listen(
  onEvent: (event: LiveEvent) => void,
  onState: (state: Connection) => void,
): () => void {
  let source: EventSource | null = null
  let timer: ReturnType<typeof setTimeout> | undefined
  let waitMs = FIRST_WAIT_MS
  let over = false

  const open = (): void => {
    clearTimeout(timer)
    source?.close()
    const mine = new EventSource('/api/live')
    source = mine
    mine.addEventListener('open', () => {
      waitMs = FIRST_WAIT_MS
      onState('open')
    })
    mine.addEventListener('error', () => {
      if (over || source !== mine) return
      onState('lost')
      // The browser retries by itself only after some failures; one clock of our own covers all.
      mine.close()
      timer = setTimeout(open, waitMs)
      waitMs = Math.min(waitMs * 2, LONGEST_WAIT_MS)
    })
    for (const name of EVENTS) {
      mine.addEventListener(name, (message: MessageEvent<string>) => {
        onEvent({ event: name, data: JSON.parse(message.data) as unknown } as LiveEvent)
      })
    }
  }
  const wake = (): void => {
    if (source?.readyState === EventSource.CLOSED && document.visibilityState === 'visible') open()
  }
  open()
  window.addEventListener('online', wake)
  document.addEventListener('visibilitychange', wake)
  return () => {
    over = true
    clearTimeout(timer)
    source?.close()
    window.removeEventListener('online', wake)
    document.removeEventListener('visibilitychange', wake)
  }
}
