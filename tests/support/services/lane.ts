import type { Socket } from 'node:net'

export interface LaneOptions {
  /** Nothing may pass now. */
  isHeld(): boolean
  delayMs(): number
  bytesPerSecond(): number | null
  /** After how many bytes the connection is to be cut, null: it is not. */
  untilCut(): number | null
  /** So many bytes have gone out. */
  onPassed(bytes: number): void
}

/** One direction of a connection through a proxy. */
export interface Lane {
  /** What holds it may have changed. */
  goOn(): void
  stop(): void
}

/** While so much waits, no more is read: the sender feels a full network, as it would. */
const WAITING_MOST = 64 * 1024
/** At a limited pace, so many portions a second. */
const PORTIONS_PER_S = 50

/** Hands on what comes from one socket to another, as late and as slowly as it is told. */
export function createLane(from: Socket, to: Socket, options: LaneOptions): Lane {
  const waiting: { piece: Buffer | null; dueAt: number }[] = []
  let waitingBytes = 0
  let running = false
  let stopped = false
  let wake: (() => void) | undefined

  const hasEnded = (): boolean => stopped || to.destroyed

  async function untilDue(dueAt: number): Promise<void> {
    while (options.isHeld() && !hasEnded()) await new Promise<void>((resolve) => (wake = resolve))
    await pause(dueAt - performance.now())
    if (options.isHeld() && !hasEnded()) await untilDue(dueAt)
  }

  /** Sends one portion; resolves to how many bytes that was. */
  async function send(piece: Buffer): Promise<number> {
    const rate = options.bytesPerSecond()
    const portion = Math.min(
      piece.length,
      options.untilCut() ?? Infinity,
      rate === null ? Infinity : Math.max(1, Math.floor(rate / PORTIONS_PER_S)),
    )
    if (rate !== null) await pause((portion / rate) * 1000)
    if (hasEnded()) return portion
    // Called as well when the socket is destroyed before it could go out.
    await new Promise<void>((resolve) => to.write(piece.subarray(0, portion), () => resolve()))
    options.onPassed(portion)
    return portion
  }

  async function run(): Promise<void> {
    for (let next = waiting.shift(); next !== undefined; next = waiting.shift()) {
      await untilDue(next.dueAt)
      if (hasEnded()) return
      if (next.piece === null) {
        to.end()
        return
      }
      let rest = next.piece
      while (rest.length > 0 && !hasEnded()) rest = rest.subarray(await send(rest))
      waitingBytes -= next.piece.length
      if (waitingBytes < WAITING_MOST) from.resume()
    }
  }

  function add(piece: Buffer | null): void {
    waiting.push({ piece, dueAt: performance.now() + options.delayMs() })
    waitingBytes += piece?.length ?? 0
    if (waitingBytes >= WAITING_MOST) from.pause()
    if (running) return
    running = true
    void run().finally(() => {
      running = false
    })
  }

  from.on('data', add)
  from.on('end', () => add(null))
  const goOn = (): void => {
    wake?.()
    wake = undefined
  }
  return {
    goOn,
    stop() {
      stopped = true
      goOn()
    },
  }
}

async function pause(ms: number): Promise<void> {
  if (ms > 0) await new Promise((resolve) => setTimeout(resolve, ms))
}
