import { describe, expect, test } from 'vitest'
import { advance } from '#hub/alerts/advance.ts'
import type { BedLook } from '#hub/analysis/assessment.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { ahead, alarmBook, bedLook, stay, T0 } from './looks.ts'

function player() {
  const book = alarmBook()
  return {
    book,
    look: (at: number, change: Partial<BedLook> = {}) =>
      book.take(advance(book.open, bedLook({ at, ...change }), at)),
  }
}

describe('out of its band', () => {
  test('is told from 0.2 beyond the edge, after three days, when that is likely', () => {
    expect(player().look(T0, { stay: stay(0.19, 96) })).toEqual([])
    expect(player().look(T0, { stay: stay(0.2, 71) })).toEqual([])
    expect(player().look(T0, { stay: stay(0.2, 72, { sureness: 0.79 }) })).toEqual([])
    const p = player()
    expect(p.look(T0, { stay: stay(0.3, 72) })).toMatchObject([
      { what: 'raised', alarm: { kind: 'out-of-band', priority: 'medium' } },
    ])
    const [alarm] = p.book.open
    expect(alarm!.sentence).toBe(
      'East bed: pH 5.7 ± 0.2, below its band of 6.0 to 7.0 for three days or more. Practically sure (95 %).',
    )
    expect(alarm!.evidence.figures).toMatchObject([
      { what: 'level', halfWidth: 0.2, unit: 'pH' },
      { what: 'band-low', value: 6 },
      { what: 'band-high', value: 7 },
    ])
    expect(alarm!.evidence.spotsMoved).toEqual(['north', 'south'])
    expect(alarm!.advice).toMatch(/product label/)
  })

  test('goes on down to 0.1 beyond, and ends after a whole day nearer than that', () => {
    const p = player()
    p.look(T0, { stay: stay(0.3, 72) })
    p.look(T0 + HOUR, { stay: stay(0.15, 72) })
    expect(p.book.open[0]!.overSince).toBeNull()
    p.look(T0 + 2 * HOUR, { stay: stay(0.05, 72) })
    expect(p.look(T0 + 25 * HOUR, { stay: stay(0.05, 72) })).toEqual([])
    expect(p.look(T0 + 26 * HOUR, { stay: stay(0.05, 72) })).toMatchObject([{ what: 'returned' }])
  })

  test('a bed of which nothing can be said keeps it', () => {
    const p = player()
    p.look(T0, { stay: stay(0.3, 72) })
    expect(p.look(T0 + 5 * DAY, { stay: null })).toEqual([])
  })
})

describe('drifting out of its band', () => {
  const inside = stay(-0.2, 0)

  test('is told when the middle course leaves within 60 days and that is likely', () => {
    expect(player().look(T0, { stay: inside, ahead: ahead(61, 0.9) })).toEqual([])
    expect(player().look(T0, { stay: inside, ahead: ahead(40, 0.79) })).toEqual([])
    expect(player().look(T0, { stay: inside, ahead: ahead(null, 0.9) })).toEqual([])
    const p = player()
    expect(p.look(T0, { stay: inside, ahead: ahead(42, 0.85) })).toMatchObject([
      { alarm: { kind: 'drift-out', priority: 'low' } },
    ])
    expect(p.book.open[0]!.sentence).toMatch(/in about 6 weeks/)
  })

  test('goes on up to 90 days, ends after two days beyond that, and at once when the bed is out', () => {
    const p = player()
    p.look(T0, { stay: inside, ahead: ahead(42, 0.85) })
    p.look(T0 + DAY, { stay: inside, ahead: ahead(80, 0.65) })
    expect(p.book.open[0]!.overSince).toBeNull()
    p.look(T0 + 2 * DAY, { stay: inside, ahead: ahead(120, 0.4) })
    expect(p.look(T0 + 4 * DAY, { stay: inside, ahead: ahead(120, 0.4) })).toMatchObject([
      { what: 'returned' },
    ])
    const q = player()
    q.look(T0, { stay: inside, ahead: ahead(42, 0.85) })
    expect(
      q.look(T0 + DAY, { stay: inside, ahead: { ...ahead(42, 0.85), now: 'below' } }),
    ).toMatchObject([{ what: 'returned' }])
  })

  test('an outlook that is not there yet ends nothing', () => {
    const p = player()
    p.look(T0, { stay: inside, ahead: ahead(42, 0.85) })
    expect(p.look(T0 + DAY, { stay: inside, ahead: null })).toEqual([])
  })

  test('is part of being out once that has come', () => {
    const p = player()
    p.look(T0, { stay: inside, ahead: ahead(42, 0.85) })
    const steps = p.look(T0 + DAY, { stay: stay(0.3, 80), ahead: ahead(42, 0.85) })
    expect(steps.map(({ what, alarm }) => [what, alarm.kind])).toEqual([
      ['raised', 'out-of-band'],
      ['closed', 'drift-out'],
    ])
  })
})

describe('what a bed is held against is gone', () => {
  const inside = stay(-0.2, 0)
  const arising = {
    'out-of-band': { stay: stay(0.3, 72) },
    'drift-out': { stay: inside, ahead: ahead(42, 0.85) },
  } as const

  test.each(['out-of-band', 'drift-out'] as const)('%s ends with the last probe', (kind) => {
    const p = player()
    p.look(T0, arising[kind])
    expect(p.look(T0 + DAY, { stay: null, ahead: null, spots: [] })).toMatchObject([
      { what: 'returned', alarm: { kind, state: 'returned' } },
    ])
    expect(p.book.open[0]!.sentence).toMatch(/Back to normal\. No probe is left in the bed/)
    expect(p.look(T0 + 2 * DAY, { stay: null, ahead: null, spots: [] })).toEqual([])
  })

  test.each(['out-of-band', 'drift-out'] as const)('%s ends with the band', (kind) => {
    const p = player()
    p.look(T0, arising[kind])
    expect(p.look(T0 + DAY, { stay: null, ahead: null, hasBand: false })).toMatchObject([
      { what: 'returned', alarm: { kind, state: 'returned' } },
    ])
    expect(p.book.open[0]!.sentence).toMatch(/no pH band any more/)
  })
})

test('advice that may end in lime or sulfur comes with all its cautions', () => {
  const cautions = [
    /product label/,
    /gloves and eye protection/,
    /keep children and animals away/,
    /local extension service/,
  ]
  const adviceOf = (change: Partial<BedLook>): string => {
    const p = player()
    p.look(T0, change)
    return p.book.open[0]!.advice
  }
  for (const advice of [
    adviceOf({ stay: stay(0.3, 72) }),
    adviceOf({ stay: stay(0.3, 72, { side: 'above', value: 7.3 }) }),
    adviceOf({ stay: stay(-0.2, 0), ahead: ahead(42, 0.85) }),
  ]) {
    for (const caution of cautions) expect(advice).toMatch(caution)
  }
})
