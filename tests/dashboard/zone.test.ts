import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { civil, instant, timeTicks } from '../../dashboard/src/zone.ts'
import { fromInputTime, toInputTime } from '../../dashboard/src/input-time.ts'

const HOUR = 3_600_000
const DAY = 24 * HOUR
const ZONES = [
  'UTC',
  'Europe/Lisbon',
  'America/St_Johns',
  'Asia/Kathmandu',
  'Australia/Lord_Howe',
  'Pacific/Apia',
]

/** The outside to check against: the language's own calendar. */
const temporal = (at: number, zone: string): string =>
  Temporal.Instant.fromEpochMilliseconds(at).toZonedDateTimeISO(zone).toPlainDateTime().toString({
    smallestUnit: 'minute',
  })

describe('civil time', () => {
  test('agrees with Temporal in many zones', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...ZONES),
        fc.integer({ min: Date.UTC(2012, 0, 1), max: Date.UTC(2037, 0, 1) }),
        (zone, at) => {
          expect(toInputTime(at, zone)).toBe(temporal(at, zone))
        },
      ),
    )
  })

  test('there and back again, to the minute, outside of the hour that happens twice', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...ZONES),
        fc.integer({ min: Date.UTC(2012, 0, 1) / 60_000, max: Date.UTC(2037, 0, 1) / 60_000 }),
        (zone, minute) => {
          const at = minute * 60_000
          const back = fromInputTime(toInputTime(at, zone), zone)
          expect(toInputTime(back ?? 0, zone)).toBe(toInputTime(at, zone))
          expect(Math.abs((back ?? 0) - at)).toBeLessThanOrEqual(HOUR)
        },
      ),
    )
  })

  test('around the clock changes of Lisbon in 2026', () => {
    const zone = 'Europe/Lisbon'
    // 25 October 02:00 summer time becomes 01:00: half past one happens twice, the first is meant.
    expect(fromInputTime('2026-10-25T01:30', zone)).toBe(Date.UTC(2026, 9, 25, 0, 30))
    // 29 March 01:00 becomes 02:00: half past one never happens.
    expect(civil(fromInputTime('2026-03-29T01:30', zone) ?? 0, zone).hour).toBe(2)
    expect(fromInputTime('2026-03-29T12:00', zone)).toBe(Date.UTC(2026, 2, 29, 11))
  })

  test('fields may run over', () => {
    const at = instant({ year: 2026, month: 13, day: 0, hour: 0, minute: 0 }, 'UTC')
    expect(at).toBe(Date.UTC(2026, 11, 31))
  })

  test.each(['', 'soon', '2026-01', '2026-01-01'])('%j is no time', (text) => {
    expect(fromInputTime(text, 'UTC')).toBeNull()
  })
})

describe('ticks', () => {
  const options = { zone: 'Europe/Lisbon', locale: 'en-GB', most: 10 }

  test('a season is marked at the months of the garden', () => {
    const ticks = timeTicks(Date.UTC(2026, 3, 25), Date.UTC(2026, 10, 28), options)
    expect(ticks.map((t) => t.label)).toEqual(['May', 'Jun', 'Jul', 'Aug', 'Sept', 'Oct', 'Nov'])
    // The first of May in Lisbon begins at 23:00 UTC of the day before.
    expect(ticks[0]?.at).toBe(Date.UTC(2026, 3, 30, 23))
  })

  test('January says the year', () => {
    const ticks = timeTicks(Date.UTC(2025, 8, 15), Date.UTC(2026, 2, 15), options)
    expect(ticks.map((t) => t.label)).toContain('2026')
  })

  test('a day across a clock change is marked at round hours of the garden', () => {
    const ticks = timeTicks(Date.UTC(2026, 9, 24, 23), Date.UTC(2026, 9, 25, 23), options)
    for (const tick of ticks) expect(civil(tick.at, options.zone).hour % 3).toBe(0)
    expect(new Set(ticks.map((t) => t.label)).size).toBe(ticks.length)
  })

  test('never more than asked for, always ascending and inside', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...ZONES),
        fc.integer({ min: Date.UTC(2012, 0, 1), max: Date.UTC(2030, 0, 1) }),
        fc.double({ min: 0.03, max: 4000, noNaN: true }),
        fc.integer({ min: 3, max: 12 }),
        (zone, from, days, most) => {
          const to = from + days * DAY
          const ticks = timeTicks(from, to, { zone, locale: 'en-GB', most })
          // One more than the division allows: a range may begin just before a tick.
          expect(ticks.length).toBeLessThanOrEqual(most + 2)
          ticks.forEach((tick, i) => {
            expect(tick.at).toBeGreaterThanOrEqual(from)
            expect(tick.at).toBeLessThan(to)
            if (i > 0) expect(tick.at).toBeGreaterThan(ticks[i - 1]?.at ?? Infinity)
          })
        },
      ),
    )
  })

  test('an empty range has none', () => {
    expect(timeTicks(5, 5, options)).toEqual([])
  })
})
