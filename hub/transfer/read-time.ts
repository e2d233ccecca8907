import { say } from '../words/say.ts'

export const TIME_FORMATS = ['iso', 'day-first', 'month-first', 'seconds', 'milliseconds'] as const
/**
 * - `iso`: year, month, day, hour and minute in this order, with or without an offset
 * - `day-first`, `month-first`: such as 31.12.2026 23:59 and 12/31/2026 11:59 PM
 * - `seconds`, `milliseconds`: since 1970-01-01 UTC
 */
export type TimeFormat = (typeof TIME_FORMATS)[number]

/** Turns the text of a cell into epoch ms. */
export interface TimeReader {
  /** What a cell should hold, for messages. */
  readonly expected: string
  /**
   * NaN when it cannot be used. An hour that the clocks showed twice, without an offset, is taken as the first of the
   * two unless `after` (epoch ms, the time of the row before) has passed it already.
   */
  read(text: string, after: number): number
}

const QUARTER = 900_000
const ISO =
  /^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]+(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?)?\s*(Z|[+-]\d{2}:?\d{2})?$/i
const PARTED =
  /^(\d{1,2})[-/.](\d{1,2})[-/.](\d{4})(?:,?[T ]+(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?)?\s*([AP]M)?$/i

/** A reader of one format; times without an offset are those of `zone` (IANA, or 'UTC'). */
export function timeReader(format: TimeFormat, zone: string): TimeReader {
  const wall = wallClock(zone)
  switch (format) {
    case 'seconds':
    case 'milliseconds': {
      const factor = format === 'seconds' ? 1000 : 1
      return {
        expected:
          format === 'seconds'
            ? say`seconds since 1970-01-01 UTC`
            : say`milliseconds since 1970-01-01 UTC`,
        read: (text) => (/^\d+(\.\d+)?$/.test(text) ? Math.round(Number(text) * factor) : NaN),
      }
    }
    case 'iso':
      return {
        expected: say`a time such as 2026-05-01 06:15 that was shown in ${zone}`,
        read(text, after) {
          const found = ISO.exec(text)
          if (found === null) return NaN
          const local = localMs(found.slice(1, 4), found.slice(4, 8))
          const offset = found[8]
          return offset === undefined ? wall(local, after) : local - offsetMs(offset)
        },
      }
    case 'day-first':
    case 'month-first':
      return {
        expected: say`a time such as ${format === 'day-first' ? '31.12.2026 23:59' : '12/31/2026 23:59'} that was shown in ${zone}`,
        read(text, after) {
          const found = PARTED.exec(text)
          if (found === null) return NaN
          const [, first, second, year] = found
          const day = format === 'day-first' ? [year, second, first] : [year, first, second]
          const hour = twelve(found[4], found[8])
          return wall(localMs(day, [hour, ...found.slice(5, 8)]), after)
        },
      }
  }
}

/** An hour of the day as text, from one of a clock with AM and PM. */
function twelve(hour: string | undefined, half: string | undefined): string | undefined {
  if (hour === undefined || half === undefined) return half === undefined ? hour : 'none'
  const n = Number(hour)
  if (n < 1 || n > 12) return 'none'
  return String((n % 12) + (half.toUpperCase() === 'PM' ? 12 : 0))
}

/** What a clock on the wall shows as ms, as if it hung in UTC; NaN for a day or time that does not exist. */
function localMs(
  [year, month, day]: readonly (string | undefined)[],
  [hour = '0', minute = '0', second = '0', fraction = '0']: readonly (string | undefined)[],
): number {
  const [y, mo, d, h, mi, s] = [year, month, day, hour, minute, second].map(Number)
  if (!(h! < 24 && mi! < 60 && s! < 60)) return NaN
  const ms = Date.UTC(y!, mo! - 1, d!, h!, mi!, s!)
  const made = new Date(ms)
  if (made.getUTCMonth() !== mo! - 1 || made.getUTCDate() !== d!) return NaN
  return ms + Math.round(Number(`0.${fraction}`) * 1000)
}

function offsetMs(text: string): number {
  if (text.toUpperCase() === 'Z') return 0
  const minutes = Number(text.slice(1, 3)) * 60 + Number(text.slice(-2))
  return (text.startsWith('-') ? -1 : 1) * minutes * 60_000
}

/** From a wall clock to the moment; NaN for a time that it skipped. */
function wallClock(zone: string): (local: number, after: number) => number {
  if (zone === 'UTC') return (local) => local
  let quarter = NaN
  let shifts: readonly number[] = []
  return (local, after) => {
    if (Number.isNaN(local)) return NaN
    const now = Math.floor(local / QUARTER)
    if (now !== quarter) {
      quarter = now
      shifts = shiftsAt(now * QUARTER, zone)
    }
    const [first = NaN, second = first] = shifts
    return local - first > after ? local - first : local - second
  }
}

/** Offsets, ms, under which a wall clock shows this: none when it was skipped, two when it was shown twice. */
function shiftsAt(local: number, zone: string): readonly number[] {
  const text = new Date(local).toISOString().slice(0, -1)
  const plain = Temporal.PlainDateTime.from(text)
  const moments = (['earlier', 'later'] as const).map((disambiguation) =>
    plain.toZonedDateTime(zone, { disambiguation }),
  )
  const shifts = moments
    .filter((moment) => moment.toPlainDateTime().equals(plain))
    .map((moment) => moment.offsetNanoseconds / 1e6)
  return [...new Set(shifts)]
}
