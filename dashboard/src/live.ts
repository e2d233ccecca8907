import type { LiveEvent } from '../../hub/api/schemas/live.ts'
import type { Connection } from './hub-state.ts'

const EVENTS: readonly LiveEvent['event'][] = [
  'bed',
  'beds',
  'alarm',
  'probes',
  'journal',
  'health',
  'messages',
  'job',
]
const FIRST_WAIT_MS = 1000
const LONGEST_WAIT_MS = 15_000
/** The hub speaks every ten seconds, if only to say that it is there: a stream this silent is dead. */
const SILENT_MS = 25_000
const LOOK_EVERY_MS = 2000

export interface Listener {
  readonly onEvent: (event: LiveEvent) => void
  readonly onState: (state: Connection) => void
  /** Something was missed that the hub cannot tell any more, or this is the beginning: all has to be fetched. */
  readonly onReset: () => void
}

/** Runs of the hub have names, their events numbers: 'run-number'. */
const numberOf = (id: string): number => Number(id.slice(id.lastIndexOf('-') + 1))
const runOf = (id: string): string => id.slice(0, id.lastIndexOf('-'))

/**
 * Listens to the hub from an event on, or with '' from now on, until the returned function is called. What was missed while the connection was away is told by
 * the hub when it is back, in order and each event once; only when it cannot do that everything is to be fetched.
 */
export function listen(since: string, { onEvent, onState, onReset }: Listener): () => void {
  let source: EventSource | null = null
  let timer: ReturnType<typeof setTimeout> | undefined
  let waitMs = FIRST_WAIT_MS
  let over = false
  /** Id of what was heard last; '' until something was. */
  let heard = since
  let heardAt = Date.now()
  let lose = (): void => undefined

  const look = (): void => {
    if (source?.readyState !== EventSource.CLOSED && Date.now() - heardAt > SILENT_MS) lose()
  }
  const open = (): void => {
    clearTimeout(timer)
    source?.close()
    const mine = new EventSource(
      heard === '' ? '/api/live' : `/api/live?after=${encodeURIComponent(heard)}`,
    )
    source = mine
    heardAt = Date.now()
    const lost = (): void => {
      if (over || source !== mine) return
      onState('lost')
      // The browser retries by itself only after some failures; one clock of our own covers all.
      mine.close()
      clearTimeout(timer)
      timer = setTimeout(open, waitMs)
      waitMs = Math.min(waitMs * 2, LONGEST_WAIT_MS)
    }
    const take = ({ lastEventId }: MessageEvent<string>): boolean => {
      if (source !== mine) return false
      heardAt = Date.now()
      const old =
        lastEventId === '' ||
        (runOf(lastEventId) === runOf(heard) && numberOf(lastEventId) <= numberOf(heard))
      if (!old) heard = lastEventId
      return !old
    }
    mine.addEventListener('open', () => {
      if (source !== mine) return
      waitMs = FIRST_WAIT_MS
      heardAt = Date.now()
      onState('open')
      if (heard === '') onReset()
    })
    mine.addEventListener('error', lost)
    mine.addEventListener('beat', (message: MessageEvent<string>) => void take(message))
    mine.addEventListener('reset', (message: MessageEvent<string>) => {
      if (source !== mine) return
      heardAt = Date.now()
      heard = message.lastEventId
      onReset()
    })
    for (const name of EVENTS) {
      mine.addEventListener(name, (message: MessageEvent<string>) => {
        if (!take(message)) return
        onEvent({ event: name, data: JSON.parse(message.data) as unknown } as LiveEvent)
      })
    }
    lose = lost
  }
  const watch = setInterval(look, LOOK_EVERY_MS)
  const wake = (): void => {
    if (document.visibilityState !== 'visible') return
    if (source?.readyState === EventSource.CLOSED) open()
    else look()
  }
  open()
  window.addEventListener('online', wake)
  document.addEventListener('visibilitychange', wake)
  return () => {
    over = true
    clearTimeout(timer)
    clearInterval(watch)
    source?.close()
    window.removeEventListener('online', wake)
    document.removeEventListener('visibilitychange', wake)
  }
}
