import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { isoWriter } from '#hub/transfer/iso-time.ts'
import { timeReader } from '#hub/transfer/read-time.ts'
import type { TimeFormat } from '#hub/transfer/read-time.ts'

const read = (format: TimeFormat, zone: string, text: string, after = -Infinity): number =>
  timeReader(format, zone).read(text, after)
const utc = (text: string): number => Date.parse(`${text}Z`)

describe('times', () => {
  test.each<[TimeFormat, string, string]>([
    ['iso', '2026-05-01T06:15', '2026-05-01T05:15'],
    ['iso', '2026-05-01 06:15:30', '2026-05-01T05:15:30'],
    ['iso', '2026/5/1 6:15', '2026-05-01T05:15'],
    ['iso', '2026-05-01T06:15:30.25Z', '2026-05-01T06:15:30.250'],
    ['iso', '2026-05-01T06:15+0530', '2026-05-01T00:45'],
    ['iso', '2026-01-01', '2026-01-01T00:00'],
    ['day-first', '31.12.2026 23:59', '2026-12-31T23:59'],
    ['day-first', '1/5/2026, 06:15', '2026-05-01T05:15'],
    ['month-first', '12/31/2026 11:59 PM', '2026-12-31T23:59'],
    ['month-first', '5/1/2026 12:05 am', '2026-04-30T23:05'],
    ['seconds', '1780218000', '2026-05-31T09:00'],
    ['milliseconds', '1780218000250', '2026-05-31T09:00:00.250'],
  ])('%s: %s', (format, text, expected) => {
    expect(read(format, 'Europe/Lisbon', text)).toBe(utc(expected))
  })

  test.each<[TimeFormat, string]>([
    ['iso', '2026-02-30 10:00'],
    ['iso', '2026-05-01 24:00'],
    ['iso', '31.12.2026 23:59'],
    ['iso', ''],
    ['day-first', '12/31/2026 10:00'],
    ['month-first', '12/31/2026 13:00 PM'],
    ['seconds', '2026-05-01'],
    ['milliseconds', '-5'],
  ])('%s: %s is none', (format, text) => {
    expect(read(format, 'Europe/Lisbon', text)).toBeNaN()
  })

  // IANA tz database: Lisbon 2026, forward on 29 March 01:00 UTC, back on 25 October 01:00 UTC.
  test('a time the clock skipped is refused', () => {
    expect(read('iso', 'Europe/Lisbon', '2026-03-29 01:30')).toBeNaN()
    expect(read('iso', 'Europe/Lisbon', '2026-03-29 02:00')).toBe(utc('2026-03-29T01:00'))
  })

  test('an hour shown twice is the first, unless the row before has passed it', () => {
    const text = '2026-10-25 01:30'
    expect(read('iso', 'Europe/Lisbon', text)).toBe(utc('2026-10-25T00:30'))
    expect(read('iso', 'Europe/Lisbon', text, utc('2026-10-25T00:50'))).toBe(
      utc('2026-10-25T01:30'),
    )
  })

  test('a logger that went on through that night loses no row', () => {
    const reader = timeReader('iso', 'Europe/Lisbon')
    const shown = ['00:30', '01:00', '01:30', '01:00', '01:30', '02:00']
    let before = -Infinity
    const read = shown.map((time) => (before = reader.read(`2026-10-25 ${time}`, before)))
    const start = utc('2026-10-24T23:30')
    expect(read).toEqual(shown.map((_, i) => start + i * 1_800_000))
  })

  test.each(['UTC', 'Europe/Lisbon', 'Australia/Lord_Howe', 'America/St_Johns', 'Asia/Kathmandu'])(
    'what is written in %s is read as it was',
    (zone) => {
      const write = isoWriter(zone)
      const reader = timeReader('iso', 'America/New_York')
      fc.assert(
        fc.property(fc.integer({ min: 946_684_800_000, max: 4_102_444_800_000 }), (at) => {
          expect(reader.read(write(at), -Infinity)).toBe(at)
        }),
        { numRuns: 500, seed: 7 },
      )
    },
  )
})
