import { HubError } from '../errors.ts'
import { createStateKeeper } from '../ingest/front.ts'
import type { FrontState, IngestLog } from '../ingest/front.ts'
import type { Arrival, Downlink } from '../ingest/ingest.ts'
import { DAY, HOUR, MINUTE, SECOND } from '../model/clock.ts'
import type { Clock } from '../model/clock.ts'
import type { CursorStore } from '../store/cursor-store.ts'
import type { IntakeLog, LoggedMessage, LogName } from '../store/intake-log.ts'
import { createClockWatch } from './clock-watch.ts'
import { createLease } from './lease.ts'
import { merge } from './merge.ts'
import type { Stretch } from './merge.ts'
import { createSilenceWatch } from './silence-watch.ts'
import { wait } from './wait.ts'

export interface LogReadingOptions {
  readonly intake: IntakeLog
  readonly cursors: CursorStore
  /** Names this hub over restarts, and no other. */
  readonly hub: string
  readonly ingest: (batch: readonly Arrival[]) => Promise<readonly Downlink[]>
  readonly onDownlinks: (downlinks: readonly Downlink[]) => void
  readonly clock: Clock
  readonly log: IngestLog
  /** Logs are kept for so many days after they were taken. */
  readonly keepDays: number
  /** How often the log is looked at, ms. @default 250 */
  readonly everyMs?: number
  /** How often ingest processes are told how far their logs are taken, ms. @default 5000 */
  readonly tellEveryMs?: number
  /** First and longest wait while the log is away, ms. @default 500 and 10000 */
  readonly backOffMs?: { readonly first: number; readonly last: number }
}

/** One log as the serving hub sees it. */
export interface LogView extends LogName {
  /** The last message taken. */
  readonly row: number
  /** Messages that wait in the log. */
  readonly behind: number
  /** Its process's clock against this one's, ms, when they are told apart; positive: it is ahead. */
  readonly clockOffMs: number | null
  /** Since when its process has said nothing, epoch ms; null while it does. */
  readonly silentSince: number | null
  /** Why it is not read on, in a sentence. */
  readonly problem: string | null
}

export interface LogReading {
  state(): FrontState
  onState(listener: (state: FrontState) => void): () => void
  logs(): readonly LogView[]
  stop(): Promise<void>
}

interface Log extends LogName, Stretch {
  messages: readonly LoggedMessage[]
  more: boolean
  /** The last message the hub has stored. */
  row: number
  /** The last message that was read. */
  read: number
  newest: number
  /** Tells in a row at which nothing lay behind `row` that could be read. */
  looks: number
  /** Where `row` was at the last tell. */
  toldRow: number
  /** Since when the next message is absent while later ones are there, epoch ms. */
  absentSince: number | null
  problem: string | null
  /** A row of it has been taken. */
  begun: boolean
}

const BATCH = 1000
const TRIM_EVERY_MS = HOUR
/** A probe that sent a message so long ago is not taken to be there still. */
const OLD_MS = MINUTE
/** A log that was trimmed begins later than at 1; this long it is believed that its beginning still comes. */
const BEGINS_WITHIN_MS = MINUTE
/** Absent messages are waited for this long: their process has them, and may have been off for the night. */
const ABSENT_FOR_MS = DAY

/** Reads what ingest processes wrote into their logs and hands it to the hub's own intake, each once. */
export function startLogReading(options: LogReadingOptions): LogReading {
  const { intake, cursors, clock, log, ingest } = options
  const everyMs = options.everyMs ?? 250
  const tellEveryMs = options.tellEveryMs ?? 5 * SECOND
  const backOff = options.backOffMs ?? { first: 500, last: 10 * SECOND }
  const state = createStateKeeper({ state: 'connecting', problem: null }, clock)
  const stopping = new AbortController()
  const clocks = createClockWatch({ clock, log, everyMs })
  const silences = createSilenceWatch({ clock, log, givenUpMs: options.keepDays * DAY })
  const lease = createLease({ intake, hub: options.hub, clock })
  const logs = new Map<string, Log>()
  let recalled = false
  let toldAt = -Infinity
  let trimmedAt = clock()
  /** Trimming was refused, and it has been said. */
  let untrimmed = false

  const keyOf = ({ writer, spool }: LogName): string => `${writer}/${spool}`

  function logOf(name: LogName): Log {
    let found = logs.get(keyOf(name))
    if (found === undefined) {
      found = {
        writer: name.writer,
        spool: name.spool,
        messages: [],
        next: 0,
        more: false,
        row: 0,
        read: 0,
        newest: 0,
        looks: 0,
        toldRow: 0,
        absentSince: null,
        problem: null,
        begun: false,
      }
      logs.set(keyOf(name), found)
    }
    return found
  }

  async function recall(): Promise<void> {
    await intake.ready()
    for (const cursor of await cursors.all()) {
      const one = logOf(cursor)
      one.row = cursor.row
      one.read = cursor.row
      one.toldRow = cursor.row
      one.begun = true
    }
    recalled = true
  }

  async function look(): Promise<void> {
    for (const found of await intake.newest()) {
      const one = logOf(found)
      clocks.looked(one, one.newest <= one.row)
      one.newest = found.row
    }
  }

  /** Reads one log on, as far as its messages follow one another without a hole. */
  async function readOn(one: Log): Promise<void> {
    const found = await intake.after(one, one.read, BATCH)
    const hole = found.findIndex((message, i) => message.row !== one.read + 1 + i)
    if (hole === 0) return absent(one, found[0]!.row)
    const whole = hole < 0 ? found : found.slice(0, hole)
    one.absentSince = null
    one.problem = null
    one.messages = whole
    one.next = 0
    const last = whole.at(-1)
    one.more = last !== undefined && last.row < one.newest
    if (last === undefined) return
    one.read = last.row
    clocks.heard(one, last.sentAt)
  }

  /** Reads on where all that was read has been handed on. */
  async function readAhead(): Promise<void> {
    const used = [...logs.values()].filter(
      (one) => one.next >= one.messages.length && one.newest > one.read,
    )
    await Promise.all(used.map(readOn))
  }

  function absent(one: Log, next: number): void {
    const now = clock()
    one.absentSince ??= now
    one.more = false
    const gone = `messages ${one.read + 1} to ${next - 1} of ${one.writer}`
    if (now - one.absentSince < (one.begun ? ABSENT_FOR_MS : BEGINS_WITHIN_MS)) {
      if (now - one.absentSince < 2 * tellEveryMs || !one.begun) return
      if (one.problem === null) log.warn(`${gone} are absent in the log; they are waited for`)
      one.problem = `${gone} are absent in the log. It sends them again as long as it has them.`
      return
    }
    if (one.begun) log.warn(`${gone} never came; the log is read on behind them`)
    else log.info(`the log of ${one.writer} begins with message ${next}`)
    one.read = next - 1
    one.absentSince = null
    one.problem = null
  }

  /** One batch; false when nothing was there to take. */
  async function takeSome(): Promise<boolean> {
    await readAhead()
    const merged = merge([...logs.values()], BATCH)
    if (merged.length === 0) return false
    // While these are stored the next ones are on their way.
    const ahead = readAhead().then(
      () => null,
      (error: unknown) => ({ error }),
    )
    try {
      options.onDownlinks(await ingest(merged.map(({ message }) => arrivalOf(message, clock()))))
    } catch (error) {
      await ahead
      for (const one of logs.values()) forgetUnstored(one)
      throw error
    }
    const moved = new Set<Log>()
    for (const { of, message } of merged) {
      of.row = message.row
      of.begun = true
      moved.add(of)
    }
    await cursors.keep(
      [...moved].map(({ writer, spool, row }) => ({ writer, spool, row })),
      clock(),
    )
    const trouble = await ahead
    if (trouble !== null) throw trouble.error
    return true
  }

  /** What was read ahead is read again: it was not stored. */
  function forgetUnstored(one: Log): void {
    one.messages = []
    one.next = 0
    one.read = one.row
    one.more = false
  }

  async function tell(): Promise<boolean> {
    if (clock() - toldAt < tellEveryMs) return true
    toldAt = clock()
    const problem = await lease.hold()
    if (problem !== null) {
      if (state.get().problem !== problem) log.warn(problem)
      state.set('down', problem)
      return false
    }
    silences.hear(await intake.beats())
    for (const one of logs.values()) {
      const atEnd = one.newest <= one.row || one.absentSince !== null
      one.looks = atEnd && one.row === one.toldRow ? one.looks + 1 : 0
      one.toldRow = one.row
    }
    await lease.tell(
      [...logs.values()].map(({ writer, spool, row, looks }) => ({ writer, spool, row, looks })),
    )
    if (clock() - trimmedAt >= TRIM_EVERY_MS) await trim()
    return true
  }

  async function trim(): Promise<void> {
    trimmedAt = clock()
    const old = await cursors.takenBefore(clock() - options.keepDays * DAY)
    try {
      for (const { writer, spool, row } of old) await intake.trim({ writer, spool }, row)
      untrimmed = false
    } catch (error) {
      // Some databases have no word for it. That the log grows keeps nobody from reading it.
      if (!(error instanceof HubError)) throw error
      if (!untrimmed) log.warn(`the intake log cannot be trimmed and grows: ${error.message}`)
      untrimmed = true
    }
  }

  async function run(): Promise<void> {
    let attempts = 0
    while (!stopping.signal.aborted) {
      let ms = everyMs
      try {
        if (!recalled) await recall()
        if (await tell()) {
          await look()
          while (!stopping.signal.aborted && (await takeSome())) if (!(await tell())) break
          if (state.get().problem !== null && attempts > 0) log.info('the intake log is read again')
          attempts = 0
          if (lease.held()) state.set('up', null)
        }
      } catch (error) {
        if (!(error instanceof HubError)) throw error
        if (stopping.signal.aborted) return
        if (attempts === 0) log.warn(`${error.message} The intake log is not read until it is back`)
        attempts++
        state.set('down', error.message)
        ms =
          Math.min(backOff.first * 2 ** (attempts - 1), backOff.last) * (0.8 + 0.4 * Math.random())
      }
      await wait(ms, stopping.signal)
    }
  }

  const running = run()
  running.catch((error: unknown) =>
    setImmediate(() => {
      throw error
    }),
  )

  return {
    state: state.get,
    onState: state.onState,
    logs: () =>
      Array.from(logs.values(), (one) => ({
        writer: one.writer,
        spool: one.spool,
        row: one.row,
        behind: Math.max(0, one.newest - one.row),
        clockOffMs: clocks.off(one.writer),
        silentSince: silences.since(one.writer),
        problem: one.problem,
      })),
    async stop() {
      stopping.abort()
      await running
    },
  }
}

function arrivalOf(message: LoggedMessage, now: number): Arrival {
  const { topic, payload, retain, arrivedAt, mayBeDelayed, refused } = message
  return {
    topic,
    payload,
    retain,
    // Nothing arrives later than it is read: a process whose clock is ahead must not write into the future.
    arrivedAt: Math.min(arrivedAt, now),
    mayBeDelayed,
    isOld: now - arrivedAt > OLD_MS,
    ...(refused === undefined ? {} : { refused }),
  }
}
