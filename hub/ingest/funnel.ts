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
   * From this many waiting messages on, `isFull` asks the source to stop.
   * @default 1000
   */
  readonly highWater?: number
}

/**
 * Group commit without a timer: while one batch is being committed, what arrives piles up and is the next
 * batch. A lone message is committed at once; under load a commit carries hundreds.
 */
export interface Funnel {
  /** `settled(null)` once the message is durable; `settled(error)` when it was not kept. */
  push(arrival: Arrival, settled: (error: Error | null) => void): void
  isFull(): boolean
  /** Calls back once, when there is room again. */
  whenRoom(resume: () => void): void
  /** Forgets what waits: nobody is told anything any more. The batch under way runs to its end. */
  drop(): void
  /** Resolves when nothing is being committed and nothing waits. */
  idle(): Promise<void>
}

interface Waiting {
  readonly arrival: Arrival
  readonly settled: (error: Error | null) => void
}

export function createFunnel(options: FunnelOptions): Funnel {
  const cap = options.cap ?? 1000
  const highWater = options.highWater ?? 1000
  let waiting: Waiting[] = []
  let resumes: (() => void)[] = []
  let idlers: (() => void)[] = []
  let underWay: readonly Waiting[] = []
  let scheduled = false

  function schedule(): void {
    if (scheduled || underWay.length > 0 || waiting.length === 0) return
    scheduled = true
    // One turn of the event loop: everything in the same socket read belongs to the same commit.
    setImmediate(() => {
      scheduled = false
      void flush()
    })
  }

  async function flush(): Promise<void> {
    if (underWay.length > 0 || waiting.length === 0) return settleIdle()
    const batch = waiting.slice(0, cap)
    waiting = waiting.slice(cap)
    underWay = batch
    let downlinks: readonly Downlink[] = []
    let failure: Error | null = null
    try {
      downlinks = await options.ingest(batch.map(({ arrival }) => arrival))
    } catch (error) {
      failure = error instanceof Error ? error : new Error(String(error))
    }
    underWay = []
    for (const { settled } of batch) settled(failure)
    if (failure === null) options.onDownlinks(downlinks)
    else if (!(failure instanceof HubError)) crash(failure)
    if (waiting.length < highWater) {
      const resume = resumes
      resumes = []
      for (const go of resume) go()
    }
    schedule()
    settleIdle()
  }

  function settleIdle(): void {
    if (underWay.length > 0 || waiting.length > 0) return
    const done = idlers
    idlers = []
    for (const resolve of done) resolve()
  }

  return {
    push(arrival, settled) {
      waiting.push({ arrival, settled })
      schedule()
    },
    isFull: () => waiting.length >= highWater,
    whenRoom(resume) {
      resumes.push(resume)
    },
    drop() {
      waiting = []
      resumes = []
      settleIdle()
    },
    idle: () =>
      underWay.length === 0 && waiting.length === 0
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
