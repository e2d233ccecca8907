import { DAY, HOUR, MINUTE, type Clock } from '../model/clock.ts'

/** Between two looks the clock and the machine's own count of time may differ by so much, ms. */
const SLACK_MS = 2 * MINUTE

/** The clock of the machine went on by more or less than the time that passed. */
export interface ClockJump {
  /** By how much it was set ahead; negative: back, ms. */
  readonly byMs: number
  /** What it shows now, epoch ms. */
  readonly at: number
}

/**
 * Finds out when the clock was set, or stood still for the hub while the machine slept: each call holds how far it went
 * since the last one against a count of time nobody can set. Null: it went on as time did.
 *
 * @param count ms, from any start. @default performance.now
 */
export function clockWatch(
  clock: Clock,
  count: () => number = () => performance.now(),
): () => ClockJump | null {
  let apart = clock() - count()
  return () => {
    const at = clock()
    const now = at - count()
    const byMs = now - apart
    apart = now
    return Math.abs(byMs) < SLACK_MS ? null : { byMs, at }
  }
}

/** A jump in a sentence for the log. */
export function clockSetNote({ byMs }: ClockJump): string {
  const all = Math.round(Math.abs(byMs) / MINUTE) * MINUTE
  const parts = [
    [Math.floor(all / DAY), 'd'],
    [Math.floor((all % DAY) / HOUR), 'h'],
    [(all % HOUR) / MINUTE, 'min'],
  ] as const
  const length = parts.flatMap(([n, unit]) => (n === 0 ? [] : `${n} ${unit}`)).join(' ')
  return (
    `the clock of this machine was set ${byMs > 0 ? 'ahead' : 'back'} by ${length} (or the machine slept); ` +
    'readings are taken as before, those of before stand at the time it showed then'
  )
}
