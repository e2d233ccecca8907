import type { Problem } from '../../hub/api/schemas/common.ts'
import type { EntryInput } from '../../hub/api/schemas/journal.ts'
import type { HandSession } from '../../hub/api/schemas/measuring.ts'

/** Something written down on this device that the hub does not have yet, or may have without having said so. */
export interface Waiting {
  /** Its own for good: whatever is sent with it twice is stored once. */
  readonly id: string
  readonly bedId: number
  readonly what:
    | { readonly kind: 'entry'; readonly body: EntryInput }
    | { readonly kind: 'sample'; readonly body: HandSession }
  /** When it was written down, epoch ms on this device's clock. */
  readonly keptAt: number
  /** It was sent at least once without an answer: the hub may have it. */
  readonly perhapsSent: boolean
  /** It was taken back; what the hub may have of it still has to go. */
  readonly takenBack: boolean
  /** Why the hub does not take it. */
  readonly problem: Problem | null
}

/** Where it waits. */
export interface WaitingStore {
  /** Oldest first. */
  all(): Promise<readonly Waiting[]>
  put(item: Waiting): Promise<void>
  /**
   * Changes one as it stands now, with nothing in between, whatever other pages do; null drops it.
   *
   * @returns what is there then; null: nothing, now or already before
   */
  change(id: string, to: (item: Waiting) => Waiting | null): Promise<Waiting | null>
  drop(id: string): Promise<void>
  /** False: it is gone with the page. */
  readonly lasting: boolean
}

const byAge = (a: Waiting, b: Waiting): number => a.keptAt - b.keptAt || (a.id < b.id ? -1 : 1)

/** In the page alone, where the browser keeps nothing. */
export function memoryWaitingStore(): WaitingStore {
  const items = new Map<string, Waiting>()
  return {
    lasting: false,
    all: async () => [...items.values()].toSorted(byAge),
    put: async (item) => void items.set(item.id, item),
    async change(id, to) {
      const item = items.get(id)
      const left = item === undefined ? null : to(item)
      if (left === null) items.delete(id)
      else items.set(id, left)
      return left
    },
    drop: async (id) => void items.delete(id),
  }
}

const NAME = 'loamline'
const STORE = 'waiting'

function done<T>(request: IDBRequest<T>): Promise<T> {
  return new Promise((resolve, reject) => {
    request.addEventListener('success', () => resolve(request.result))
    request.addEventListener('error', () => reject(request.error ?? new Error('IndexedDB failed')))
  })
}

/** In the browser's own database; in the page alone where there is none. */
export async function openWaitingStore(): Promise<WaitingStore> {
  let db: IDBDatabase
  try {
    const opening = indexedDB.open(NAME, 1)
    opening.addEventListener('upgradeneeded', () =>
      opening.result.createObjectStore(STORE, { keyPath: 'id' }),
    )
    db = await done(opening)
  } catch {
    return memoryWaitingStore()
  }
  const store = (mode: IDBTransactionMode): IDBObjectStore =>
    // What somebody wrote down must outlive a battery that dies a second later.
    db.transaction(STORE, mode, { durability: 'strict' }).objectStore(STORE)
  const written = async <T>(request: IDBRequest<T>): Promise<void> => {
    const { transaction } = request
    await new Promise<void>((resolve, reject) => {
      transaction?.addEventListener('complete', () => resolve())
      transaction?.addEventListener('abort', () =>
        reject(transaction.error ?? request.error ?? new Error('IndexedDB failed')),
      )
    })
  }
  return {
    lasting: true,
    all: async () =>
      (await done(store('readonly').getAll() as IDBRequest<Waiting[]>)).toSorted(byAge),
    put: (item) => written(store('readwrite').put(item)),
    async change(id, to) {
      const rows = store('readwrite')
      const finding = rows.get(id) as IDBRequest<Waiting | undefined>
      let left: Waiting | null = null
      finding.addEventListener('success', () => {
        const { result } = finding
        if (result === undefined) return
        left = to(result)
        if (left === null) rows.delete(id)
        else if (left !== result) rows.put(left)
      })
      await written(finding)
      return left
    },
    drop: (id) => written(store('readwrite').delete(id)),
  }
}
