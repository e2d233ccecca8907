import { HubError } from '../errors.ts'
import type { IngestLog } from '../ingest/front.ts'
import { SECOND } from '../model/clock.ts'
import type { Clock } from '../model/clock.ts'
import type { IntakeLog, LogName } from '../store/intake-log.ts'
import type { SpoolState, SpoolStore } from '../store/spool-store.ts'
import { wait } from './wait.ts'

export interface ForwardingOptions {
  /** Client id of this process. */
  readonly writer: string
  readonly spool: SpoolStore
  readonly intake: IntakeLog
  readonly clock: Clock
  readonly log: IngestLog
  /** First and longest wait between attempts while the log is away, ms. @default 500 and 30000 */
  readonly backOffMs?: { readonly first: number; readonly last: number }
  /** How often the serving hub's place in the log is looked at, ms. @default 5000 */
  readonly lookEveryMs?: number
}

/** How messages get on from the spool to the log. */
export interface ForwardingState extends SpoolState {
  /** Messages the log has not confirmed. */
  readonly waiting: number
  /** Why they cannot go on, in a sentence; null while they can. */
  readonly problem: string | null
  /** Since when, epoch ms. */
  readonly since: number
  /** Attempts since then. */
  readonly attempts: number
  /** When the next one is due, epoch ms; null while messages go on. */
  readonly nextTryAt: number | null
  /** Messages the log has confirmed since the start. */
  readonly forwarded: number
  /** Whether a serving hub has said how far it has taken the log. */
  readonly served: boolean
}

export interface Forwarding {
  /** There is something new in the spool. */
  touch(): void
  state(): Promise<ForwardingState>
  /** Sends what it can within five seconds, then closes the log. */
  stop(): Promise<void>
}

const BATCH = 1000
/** Looks of the serving hub behind its place that find nothing, before what is confirmed goes out again. */
const LOOKS = 3
const ENDS_WITHIN_MS = 5 * SECOND

/** Moves messages from the spool into the log, in order, for as long as it takes. */
export function startForwarding(options: ForwardingOptions): Forwarding {
  const { writer, spool, intake, clock, log } = options
  const backOff = options.backOffMs ?? { first: 500, last: 30 * SECOND }
  const lookEveryMs = options.lookEveryMs ?? 5 * SECOND
  const stopping = new AbortController()
  let wake: (() => void) | undefined
  let touched = true
  let ending = false
  let ready = false
  let problem: string | null = null
  let since = clock()
  let attempts = 0
  let nextTryAt: number | null = null
  let forwarded = 0
  let served = false
  let lookedAt = -Infinity
  /** Where the serving hub was, how often it had looked behind that, and what was confirmed then. */
  let place: { readonly row: number; readonly looks: number; readonly delivered: number } | null =
    null

  /** Asked before anything new can come in. */
  const opened = spool.state()
  opened.catch(() => {})

  const name = (state: SpoolState): LogName => ({ writer, spool: state.id })

  /** A folder that is older than its log (put back from a copy) must not give its numbers twice. */
  async function begin(): Promise<void> {
    await intake.ready()
    const state = await opened
    const logged = (await intake.newest()).find(
      (other) => other.writer === writer && other.spool === state.id,
    )
    if (logged !== undefined && logged.row > state.last) {
      log.warn(
        `the log holds ${logged.row} messages of this spool, which had only ${state.last}: its folder was put ` +
          'back from an older copy; it goes on under a new name',
      )
      await spool.renew()
    }
    ready = true
  }

  /** Learns how far the serving hub is; what it has may leave the spool, what it misses goes out again. */
  async function look(state: SpoolState): Promise<void> {
    lookedAt = clock()
    await intake.beat(writer, lookedAt)
    const taken = await intake.takenOf(name(state))
    served = taken !== null
    if (taken === null) return
    if (taken.row > state.taken && taken.row <= state.last) await spool.taken(taken.row)
    const moved = place?.row !== taken.row || place.delivered !== state.delivered
    if (moved || place === null || taken.looks < place.looks)
      place = { ...taken, delivered: state.delivered }
    const from = Math.max(taken.row, state.taken)
    if (from < state.delivered && taken.looks - place.looks >= LOOKS) {
      log.warn(
        `the log has lost messages ${from + 1} to ${state.delivered} of this process; they are sent again`,
      )
      await spool.delivered(from)
      place = null
    }
  }

  /** Sends until nothing waits any more. */
  async function sendAll(): Promise<void> {
    while (!stopping.signal.aborted) {
      touched = false
      const state = await spool.state()
      if (clock() - lookedAt >= lookEveryMs) {
        await look(state)
        continue
      }
      const messages = await spool.after(state.delivered, BATCH)
      const last = messages.at(-1)
      if (last === undefined) return
      await intake.append(name(state), messages, clock())
      await spool.delivered(last.row)
      forwarded += messages.length
      if (problem !== null) recovered()
    }
  }

  function recovered(): void {
    log.info(`the log takes messages again after ${attempts} attempts`)
    problem = null
    since = clock()
    attempts = 0
    nextTryAt = null
  }

  async function failed(error: HubError): Promise<number> {
    attempts++
    const ms = Math.min(backOff.first * 2 ** (attempts - 1), backOff.last)
    // Spread, so that several processes do not come back at the same moment.
    const spread = Math.round(ms * (0.8 + 0.4 * Math.random()))
    nextTryAt = clock() + spread
    if (problem === null) since = clock()
    problem = error.message
    const state = await spool.state()
    // Each doubling once, then one line in ten.
    if (ms < backOff.last || attempts % 10 === 0)
      log.warn(
        `${error.message} ${state.last - state.delivered} messages wait in the spool ` +
          `(${Math.ceil(state.bytes / 1024)} KiB on the disk); next try in ${Math.round(ms / 100) / 10} s`,
      )
    return spread
  }

  async function run(): Promise<void> {
    for (;;) {
      try {
        if (!ready) await begin()
        await sendAll()
        if (problem !== null) recovered()
        if (ending || stopping.signal.aborted) return
        if (!touched) await sleep(lookEveryMs)
      } catch (error) {
        if (!(error instanceof HubError)) throw error
        if (ending) return
        await sleep(await failed(error), true)
      }
      if (stopping.signal.aborted) return
    }
  }

  /** Until there is something new, unless `through`, or the time has passed. */
  async function sleep(ms: number, through = false): Promise<void> {
    const early = new AbortController()
    const done = (): void => early.abort()
    if (!through) wake = done
    stopping.signal.addEventListener('abort', done, { once: true })
    await wait(ms, early.signal)
    stopping.signal.removeEventListener('abort', done)
    wake = undefined
  }

  const running = run()
  // A mistake of ours: whoever stops hears of it at the latest, the process at once.
  running.catch((error: unknown) =>
    setImmediate(() => {
      throw error
    }),
  )

  return {
    touch() {
      touched = true
      wake?.()
    },
    async state() {
      const state = await spool.state()
      const waiting = state.last - state.delivered
      return { ...state, waiting, problem, since, attempts, nextTryAt, forwarded, served }
    },
    async stop() {
      ending = true
      wake?.()
      if (problem !== null) stopping.abort()
      await Promise.race([running, wait(ENDS_WITHIN_MS, stopping.signal)])
      stopping.abort()
      // An answer that does not come is waited for no longer.
      await intake.close()
      await running
    },
  }
}
