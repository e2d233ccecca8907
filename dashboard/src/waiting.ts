import type { Entry } from '../../hub/api/schemas/journal.ts'
import { ApiError } from './ask.ts'
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
   * Keeps something and sends it at once. 'waiting': the hub could not be reached, or would not have it now.
   *
   * @throws ApiError when the hub will not have it as it is; it is not kept then
   */
  add(bedId: number, what: Waiting['what']): Promise<'stored' | 'waiting'>
  /** Takes something back, also when it was sent meanwhile; what the hub may have of it goes with `sendAll`. */
  takeBack(item: Waiting): Promise<void>
  /** Sends what waits, oldest first, and again what the hub refused. */
  sendAll(): Promise<void>
}

/** Something without an answer, or with one that is not about what was sent: it can be sent again. */
const isAway = ({ problem: { status } }: ApiError): boolean => status === 0 || status >= 500
/** Nothing is wrong with it: somebody has to sign in, or it was too much at once. */
const isLater = ({ problem: { status } }: ApiError): boolean => status === 401 || status === 429
/** The hub will not have it as it is. */
const isRefusal = (error: ApiError): boolean => !isAway(error) && !isLater(error)
/** Done with, unless it was taken back meanwhile: then what the hub has of it still has to go. */
const unlessTakenBack = (item: Waiting): Waiting | null => (item.takenBack ? item : null)

/** What was written down while the hub was out of reach, sent when it is back, each once. */
export function createWaiting(parts: WaitingParts): WaitingQueue {
  const { store } = parts
  let running: Promise<void> | null = null
  let again = false

  const items = async (): Promise<readonly Waiting[]> =>
    (await store.all()).filter(({ takenBack }) => !takenBack)
  const told = async (): Promise<void> => parts.onChange(await items())

  /** 'gone': it is done with; 'away': nothing more can be sent now. */
  async function settle(id: string): Promise<'gone' | 'kept' | 'away'> {
    // Whether an answer comes is not known before: from now on the hub may have it.
    const item = await store.change(id, (now) =>
      now.perhapsSent ? now : { ...now, perhapsSent: true },
    )
    // Taken back, or sent by another page, since its turn was given out.
    if (item === null) return 'gone'
    try {
      const entry = await parts.send(item)
      if ((await store.change(id, unlessTakenBack)) !== null) {
        await parts.remove(entry)
        await store.drop(id)
      }
      return 'gone'
    } catch (error) {
      if (!(error instanceof ApiError)) throw error
      if (!isRefusal(error)) return 'away'
      const { problem } = error
      // What was refused, or is no longer there, need not be taken back.
      const left = await store.change(id, (now) =>
        now.takenBack ? null : { ...now, perhapsSent: false, problem },
      )
      return left === null ? 'gone' : 'kept'
    }
  }

  async function sendEach(): Promise<void> {
    do {
      again = false
      for (const { id } of await store.all()) {
        const outcome = await settle(id)
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
        const isRefused = error instanceof ApiError && isRefusal(error)
        if (isRefused) await store.drop(item.id)
        await told()
        if (!isRefused && error instanceof ApiError) return 'waiting'
        throw error
      }
      await store.change(item.id, unlessTakenBack)
      await told()
      return 'stored'
    },
    async takeBack(item) {
      let isThere = false
      await store.change(item.id, (now) => {
        isThere = true
        return now.perhapsSent ? { ...now, takenBack: true } : null
      })
      // It was sent meanwhile: sent again under its id, the hub says which entry it became, and that one goes.
      if (!isThere) await store.put({ ...item, perhapsSent: true, takenBack: true, problem: null })
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
