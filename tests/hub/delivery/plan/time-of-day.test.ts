import fc from 'fast-check'
import { expect, test } from 'vitest'
import { nextTimeOfDay, quietUntil } from '#hub/delivery/plan/time-of-day.ts'

const LISBON = 'Europe/Lisbon'
const at = (iso: string): number => Date.parse(iso)
const iso = (ms: number): string => new Date(ms).toISOString()

test('the next time of day is the garden’s, and lies strictly ahead', () => {
  // Lisbon keeps UTC in winter and is an hour ahead in summer.
  expect(iso(nextTimeOfDay(at('2026-01-10T06:59:00Z'), '07:00', LISBON))).toBe(
    '2026-01-10T07:00:00.000Z',
  )
  expect(iso(nextTimeOfDay(at('2026-01-10T07:00:00Z'), '07:00', LISBON))).toBe(
    '2026-01-11T07:00:00.000Z',
  )
  expect(iso(nextTimeOfDay(at('2026-07-10T06:30:00Z'), '07:00', LISBON))).toBe(
    '2026-07-11T06:00:00.000Z',
  )
})

test('a time of day that is left out, or is there twice, when summer time begins and ends', () => {
  // On 29 March 2026 Lisbon goes from 00:59 to 02:00, on 25 October from 01:59 back to 01:00 (IANA zone data).
  expect(iso(nextTimeOfDay(at('2026-03-28T20:00:00Z'), '01:30', LISBON))).toBe(
    '2026-03-29T01:30:00.000Z',
  )
  expect(iso(nextTimeOfDay(at('2026-10-24T20:00:00Z'), '01:30', LISBON))).toBe(
    '2026-10-25T00:30:00.000Z',
  )
  expect(iso(nextTimeOfDay(at('2026-10-25T00:40:00Z'), '01:30', LISBON))).toBe(
    '2026-10-25T01:30:00.000Z',
  )
})

test('quiet hours over midnight end in the morning, and are over at their end', () => {
  const quiet = { from: '22:00', to: '07:00', letThrough: null }
  expect(quietUntil(quiet, at('2026-01-10T21:59:59Z'), LISBON)).toBeNull()
  expect(iso(quietUntil(quiet, at('2026-01-10T22:00:00Z'), LISBON)!)).toBe(
    '2026-01-11T07:00:00.000Z',
  )
  expect(iso(quietUntil(quiet, at('2026-01-11T03:00:00Z'), LISBON)!)).toBe(
    '2026-01-11T07:00:00.000Z',
  )
  expect(quietUntil(quiet, at('2026-01-11T07:00:00Z'), LISBON)).toBeNull()
  const noon = { from: '12:00', to: '14:00', letThrough: null }
  expect(quietUntil(noon, at('2026-01-11T11:59:00Z'), LISBON)).toBeNull()
  expect(iso(quietUntil(noon, at('2026-01-11T12:00:00Z'), LISBON)!)).toBe(
    '2026-01-11T14:00:00.000Z',
  )
})

test('in any zone the clocks show the time that was asked for, unless no clock does that day', () => {
  const zones = ['Europe/Lisbon', 'America/St_Johns', 'Asia/Kathmandu', 'Australia/Lord_Howe']
  fc.assert(
    fc.property(
      fc.integer({ min: at('2026-01-01T00:00:00Z'), max: at('2027-01-01T00:00:00Z') }),
      fc.integer({ min: 0, max: 23 }),
      fc.integer({ min: 0, max: 59 }),
      fc.constantFrom(...zones),
      (from, hour, minute, zone) => {
        const time = `${String(hour).padStart(2, '0')}:${String(minute).padStart(2, '0')}`
        const next = nextTimeOfDay(from, time, zone)
        expect(next).toBeGreaterThan(from)
        expect(next - from).toBeLessThanOrEqual(26 * 3_600_000)
        // A second reading of the clock, by Intl.
        const shown = new Intl.DateTimeFormat('en-GB', {
          timeZone: zone,
          hour: '2-digit',
          minute: '2-digit',
        }).format(next)
        if (shown !== time) {
          // Left out: within an hour after a jump of the clocks.
          const offset = (ms: number): string =>
            new Intl.DateTimeFormat('en', { timeZone: zone, timeZoneName: 'longOffset' }).format(ms)
          expect(offset(next).slice(-9)).not.toBe(offset(next - 3_600_000).slice(-9))
        }
      },
    ),
    { numRuns: 300, seed: 11 },
  )
})
