import { HubError } from '../errors.ts'
import type { Arrival, Downlink } from './ingest.ts'

export interface FunnelOptions {
  readonly ingest: (batch: readonly Arrival[]) => Promise<readonly Downlink[]>
  /** What the hub answers, after the messages of the batch have been told that they are stored. */
  readonly onDownlinks: (downlinks: readonly Downlink[]) => void
  /**
   * Most messages in one commit.
   * @default 1000
   */
  readonly cap?: number
  /**
   * From this many waiting messages on, a second batch is handed in beside the one that is being committed.
   * @default never
   */
  readonly secondFrom?: number
  /**
   * From this many waiting messages on, `isFull` asks the source to stop.
   * @default 1000
   */
  readonly highWater?: number
}

/** Below that a batch of its own costs more than it gains. */
export const SECOND_FROM = 250

/** Hears what became of a message: null once it is durable, why when it was not kept. */
export type Settled = (error: Error | null, ticket: number) => void

/**
 * Group commit without a timer: while one batch is being committed, what arrives piles up and is the next
 * batch. A lone message is committed at once; under load a commit carries hundreds.
 */
export interface Funnel {
  /** `ticket` comes back with the answer, so that one function can serve many messages. @default 0 */
  push(arrival: Arrival, settled: Settled, ticket?: number): void
  isFull(): boolean
  /** Calls back once, when there is room again. */
  whenRoom(resume: () => void): void
  /** Forgets what waits: nobody is told anything any more. The batch under way runs to its end. */
  drop(): void
  /** Resolves when nothing is being committed and nothing waits. */
  idle(): Promise<void>
}

/** Messages and who hears of them, side by side. */
interface Pile {
  readonly arrivals: Arrival[]
  readonly settled: Settled[]
  readonly tickets: number[]
}

const emptyPile = (): Pile => ({ arrivals: [], settled: [], tickets: [] })

/** Takes at most `cap` off the front of a pile. */
function takeOff(pile: Pile, cap: number): [taken: Pile, rest: Pile] {
  if (pile.arrivals.length <= cap) return [pile, emptyPile()]
  const { arrivals, settled, tickets } = pile
  return [
    {
      arrivals: arrivals.slice(0, cap),
      settled: settled.slice(0, cap),
      tickets: tickets.slice(0, cap),
    },
    { arrivals: arrivals.slice(cap), settled: settled.slice(cap), tickets: tickets.slice(cap) },
  ]
}

export function createFunnel(options: FunnelOptions): Funnel {
  const cap = options.cap ?? 1000
  const highWater = options.highWater ?? 1000
  let waiting = emptyPile()
  let resumes: (() => void)[] = []
  let idlers: (() => void)[] = []
  const secondFrom = options.secondFrom ?? Infinity
  /** Batches that are being committed. */
  let busy = 0
  let scheduled = false

  const waits = (): number => waiting.arrivals.length

  /** A batch on its own as soon as something waits, a second one when it is worth it. */
  const mayBegin = (): boolean => (busy === 0 ? waits() > 0 : busy === 1 && waits() >= secondFrom)

  function schedule(): void {
    if (scheduled || !mayBegin()) return
    scheduled = true
    // One turn of the event loop: everything in the same socket read belongs to the same commit.
    setImmediate(() => {
      scheduled = false
      void flush()
    })
  }

  async function flush(): Promise<void> {
    if (!mayBegin()) return settleIdle()
    const [batch, rest] = takeOff(waiting, cap)
    waiting = rest
    busy++
    let downlinks: readonly Downlink[] = []
    let failure: Error | null = null
    try {
      downlinks = await options.ingest(batch.arrivals)
    } catch (error) {
      failure = error instanceof Error ? error : new Error(String(error))
    }
    busy--
    batch.settled.forEach((settled, i) => settled(failure, batch.tickets[i] ?? 0))
    if (failure === null) options.onDownlinks(downlinks)
    else if (!(failure instanceof HubError)) crash(failure)
    makeRoom()
    schedule()
    settleIdle()
  }

  function makeRoom(): void {
    if (waits() >= highWater) return
    const resume = resumes
    resumes = []
    for (const go of resume) go()
  }

  function settleIdle(): void {
    if (busy > 0 || waits() > 0) return
    const done = idlers
    idlers = []
    for (const resolve of done) resolve()
  }

  return {
    push(arrival, settled, ticket = 0) {
      waiting.arrivals.push(arrival)
      waiting.settled.push(settled)
      waiting.tickets.push(ticket)
      schedule()
    },
    isFull: () => waits() >= highWater,
    whenRoom(resume) {
      resumes.push(resume)
    },
    drop() {
      waiting = emptyPile()
      resumes = []
      settleIdle()
    },
    idle: () =>
      busy === 0 && waits() === 0
        ? Promise.resolve()
        : new Promise((resolve) => idlers.push(resolve)),
  }
}

/** A fault of the hub's own code must end the process, not be swallowed by a promise. */
function crash(error: Error): void {
  setImmediate(() => {
    throw error
  })
}
