import type { Entry } from '../../hub/api/schemas/journal.ts'
import { ApiError } from './api.ts'
import type { Waiting, WaitingStore } from './waiting-store.ts'

export interface WaitingParts {
  readonly store: WaitingStore
  /** Sends it with its id. @throws ApiError */
  readonly send: (item: Waiting) => Promise<Entry>
  /** @throws ApiError */
  readonly remove: (entry: Entry) => Promise<unknown>
  /** An id of its own for something new. */
  readonly newId: () => string
  /** Epoch ms. */
  readonly now: () => number
  readonly onChange: (items: readonly Waiting[]) => void
}

export interface WaitingQueue {
  readonly lasting: boolean
  /** What waits, oldest first, without what was taken back. */
  items(): Promise<readonly Waiting[]>
  /**
   * Keeps something and sends it at once. 'waiting': the hub could not be reached.
   *
   * @throws ApiError when the hub will not have it as it is; it is not kept then
   */
  add(bedId: number, what: Waiting['what']): Promise<'stored' | 'waiting'>
  /** Takes something back; what the hub may have of it goes when it can be reached. */
  takeBack(id: string): Promise<void>
  /** Sends what waits, oldest first, and again what the hub refused. */
  sendAll(): Promise<void>
}

/** Something without an answer, or with one that is not about what was sent: it can be sent again. */
const isAway = ({ problem: { status } }: ApiError): boolean => status === 0 || status >= 500
/** Nothing is wrong with it: somebody has to sign in, or it was too much at once. */
const isLater = ({ problem: { status } }: ApiError): boolean => status === 401 || status === 429

/** What was written down while the hub was out of reach, sent when it is back, each once. */
export function createWaiting(parts: WaitingParts): WaitingQueue {
  const { store } = parts
  let running: Promise<void> | null = null
  let again = false

  const items = async (): Promise<readonly Waiting[]> =>
    (await store.all()).filter(({ takenBack }) => !takenBack)
  const told = async (): Promise<void> => parts.onChange(await items())

  /** 'gone': it is done with; 'away': nothing more can be sent now. */
  async function settle(item: Waiting): Promise<'gone' | 'kept' | 'away'> {
    // Whether an answer comes is not known before: from now on the hub may have it.
    if (!item.perhapsSent) await store.put({ ...item, perhapsSent: true })
    try {
      const entry = await parts.send(item)
      if (item.takenBack) await parts.remove(entry)
      await store.drop(item.id)
      return 'gone'
    } catch (error) {
      if (!(error instanceof ApiError)) throw error
      if (isAway(error) || isLater(error)) return 'away'
      // What was refused, or is no longer there, need not be taken back.
      if (item.takenBack) {
        await store.drop(item.id)
        return 'gone'
      }
      await store.put({ ...item, perhapsSent: false, problem: error.problem })
      return 'kept'
    }
  }

  async function sendEach(): Promise<void> {
    do {
      again = false
      for (const item of await store.all()) {
        const outcome = await settle(item)
        await told()
        if (outcome === 'away') return
      }
    } while (again)
  }

  return {
    lasting: store.lasting,
    items,
    async add(bedId, what) {
      const item: Waiting = {
        id: parts.newId(),
        bedId,
        what,
        keptAt: parts.now(),
        perhapsSent: true,
        takenBack: false,
        problem: null,
      }
      // Kept before it is sent: a page that is closed in between loses nothing.
      await store.put(item)
      try {
        await parts.send(item)
      } catch (error) {
        if (error instanceof ApiError && isAway(error)) {
          await told()
          return 'waiting'
        }
        await store.drop(item.id)
        throw error
      }
      await store.drop(item.id)
      return 'stored'
    },
    async takeBack(id) {
      const item = (await store.all()).find((one) => one.id === id)
      if (item === undefined) return
      if (item.perhapsSent) await store.put({ ...item, takenBack: true })
      else await store.drop(id)
      await told()
    },
    sendAll() {
      again = running !== null
      running ??= sendEach().finally(() => {
        running = null
      })
      return running
    },
  }
}
