import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { cursorStep } from '../../dashboard/src/chart/cursor-keys.ts'
import { dragged, pinched, zoomedAt } from '../../dashboard/src/chart/pinch.ts'
import { askedRange, rangeSearch } from '../../dashboard/src/chart/range-address.ts'

const DAY = 86_400_000
const range = { from: 1000 * DAY, to: 1100 * DAY }

describe('two fingers', () => {
  test('keep beneath them what they were put on', () => {
    fc.assert(
      fc.property(
        fc.tuple(fc.integer({ min: 0, max: 400 }), fc.integer({ min: 30, max: 400 })),
        fc.tuple(fc.integer({ min: 0, max: 400 }), fc.integer({ min: 30, max: 400 })),
        ([a, apart], [b, later]) => {
          const width = 800
          const was = [{ x: a }, { x: a + apart }] as const
          const is = [{ x: b }, { x: b + later }] as const
          const next = pinched(range, width, was, is)
          const timeAt = (of: typeof range, x: number): number =>
            of.from + (x / width) * (of.to - of.from)
          for (const f of [0, 1] as const) {
            expect(Math.abs(timeAt(next, is[f].x) - timeAt(range, was[f].x))).toBeLessThan(5)
          }
        },
      ),
    )
  })

  test('in any order, and on one spot they do not tear the time apart', () => {
    const open = pinched(range, 800, [{ x: 300 }, { x: 500 }], [{ x: 200 }, { x: 600 }])
    expect(open.to - open.from).toBeCloseTo(50 * DAY, -2)
    expect(pinched(range, 800, [{ x: 500 }, { x: 300 }], [{ x: 600 }, { x: 200 }])).toEqual(open)
    const close = pinched(range, 800, [{ x: 400 }, { x: 401 }], [{ x: 400 }, { x: 400 }])
    expect(close.to - close.from).toBe(100 * DAY)
    const wide = pinched(range, 800, [{ x: 400 }, { x: 424 }], [{ x: 0 }, { x: 800 }])
    expect(wide.to - wide.from).toBeGreaterThanOrEqual(30 * 60_000)
  })
})

test('one finger takes the paper with it', () => {
  expect(dragged(range, 800, { x: 100 }, { x: 500 })).toEqual({ from: 950 * DAY, to: 1050 * DAY })
})

test('the wheel keeps what is under the pointer', () => {
  const next = zoomedAt(range, 800, 200, 0.5)
  expect(next).toEqual({ from: 1012.5 * DAY, to: 1062.5 * DAY })
})

describe('keys', () => {
  const at = { at: 50, count: 200, shift: false }
  test.each([
    ['ArrowRight', at, { to: 51 }],
    ['ArrowLeft', at, { to: 49 }],
    ['ArrowRight', { ...at, shift: true }, { to: 70 }],
    ['PageDown', at, { to: 30 }],
    ['Home', at, { to: 0 }],
    ['End', at, { to: 199 }],
    ['ArrowRight', { ...at, at: 199 }, { to: 199 }],
    ['ArrowLeft', { ...at, at: 0 }, { to: 0 }],
    ['ArrowRight', { ...at, count: 0 }, null],
    ['+', at, { zoom: 0.5 }],
    ['-', at, { zoom: 2 }],
    ['Escape', at, 'reset'],
    ['Tab', at, null],
    ['a', at, null],
  ] as const)('%s from %o', (key, from, step) => {
    expect(cursorStep(key, from)).toEqual(step)
  })
})

describe('the stretch of time in the address', () => {
  const zone = 'Europe/Lisbon'
  test.each([
    ['', { name: 'season', zoom: null }],
    ['?range=week', { name: 'week', zoom: null }],
    [
      '?range=all&from=2026-05-01T00:00&to=2026-05-08T12:30',
      {
        name: 'all',
        zoom: { from: Date.UTC(2026, 3, 30, 23), to: Date.UTC(2026, 4, 8, 11, 30) },
      },
    ],
  ] as const)('%j goes there and back', (search, asked) => {
    expect(askedRange(search, zone)).toEqual(asked)
    expect(rangeSearch(asked, zone)).toBe(search)
  })

  test.each(['?range=century', '?from=x&to=y', '?from=2026-05-08T00:00&to=2026-05-01T00:00'])(
    '%s asks for the usual',
    (search) => expect(askedRange(search, zone)).toEqual({ name: 'season', zoom: null }),
  )
})
