import type { IngestLog } from '../ingest/front.ts'
import { SECOND } from '../model/clock.ts'
import type { Clock } from '../model/clock.ts'
import type { LogName } from '../store/intake-log.ts'

/** Clocks may be apart by so much before anybody is told. */
const TOLERATED_MS = 5 * SECOND
/** The smallest of so many differences counts: what a message is on its way for comes on top of it. */
const OBSERVED = 5

/**
 * Compares the clocks of ingest processes with this one: of a log that had been read to its end, the newest
 * message was sent a moment ago.
 */
export interface ClockWatch {
  /** Its log was looked at; `atEnd`: nothing lay behind what is taken. */
  looked(name: LogName, atEnd: boolean): void
  /** A message of it was read that was sent at `sentAt` by its clock, epoch ms. */
  heard(name: LogName, sentAt: number): void
  /** How far a process's clock is ahead of this one, ms; null: not told apart. */
  off(writer: string): number | null
}

export function createClockWatch(options: {
  readonly clock: Clock
  readonly log: IngestLog
  readonly everyMs: number
}): ClockWatch {
  const { clock, log } = options
  const seen = new Map<
    string,
    { endedAt: number; readonly late: number[]; off: number | null; told: boolean }
  >()

  function of(writer: string) {
    let found = seen.get(writer)
    if (found === undefined) {
      found = { endedAt: -Infinity, late: [], off: null, told: false }
      seen.set(writer, found)
    }
    return found
  }

  return {
    looked({ writer }, atEnd) {
      if (atEnd) of(writer).endedAt = clock()
    },
    heard({ writer }, sentAt) {
      const one = of(writer)
      const now = clock()
      if (now - one.endedAt > 2 * options.everyMs) return
      one.late.push(now - sentAt)
      if (one.late.length > OBSERVED) one.late.shift()
      if (one.late.length < OBSERVED) return
      const least = Math.min(...one.late)
      one.off = Math.abs(least) > TOLERATED_MS ? -least : null
      if (one.off !== null && !one.told)
        log.warn(
          `the clock of ${writer} is ${Math.round(Math.abs(one.off) / SECOND)} s ` +
            `${one.off > 0 ? 'ahead' : 'behind'}: readings it takes get a wrong time. Have it set by NTP`,
        )
      one.told = one.off !== null
    },
    off: (writer) => seen.get(writer)?.off ?? null,
  }
}
