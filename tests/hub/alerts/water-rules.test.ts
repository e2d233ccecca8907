import { expect, test } from 'vitest'
import { advance } from '#hub/alerts/advance.ts'
import type { BedLook } from '#hub/analysis/assessment.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { alarmBook, bedLook, T0, water } from './looks.ts'

function player() {
  const book = alarmBook()
  return {
    book,
    look: (at: number, change: Partial<BedLook>) =>
      book.take(advance(book.open, bedLook({ at, ...change }), at)),
  }
}

/** The bed lacks so many millimetres, or holds too much: the sentence tells which time it is. */
function finding(state: 'dry' | 'waterlogged', sentence: string, since: number) {
  const usual = water(state)
  return {
    ...usual,
    since,
    sentence,
    standing: { ...usual.standing, missingMm: { value: 15, low: 13, high: 17 } },
  }
}

const KINDS = ['dry', 'waterlogged'] as const

test.each(KINDS)('%s again before anybody saw it, it is told with what is so now', (kind) => {
  const p = player()
  p.look(T0, { water: finding(kind, 'The first time.', T0) })
  p.look(T0 + DAY, { water: water('ample') })
  p.look(T0 + DAY + HOUR, { water: water('ample') })
  expect(p.book.open).toMatchObject([{ kind, state: 'returned' }])
  const again = T0 + 5 * DAY
  expect(p.look(again, { water: finding(kind, 'The second time.', again) })).toMatchObject([
    { what: 'raised', alarm: { id: 1, state: 'unacknowledged', evidence: { since: again } } },
  ])
  expect(p.book.open[0]!.sentence).toBe('East bed: The second time.')
})

test.each(KINDS)('%s goes on with the words it was raised with', (kind) => {
  const p = player()
  p.look(T0, { water: finding(kind, 'As it began.', T0) })
  expect(p.look(T0 + HOUR, { water: finding(kind, 'A little more.', T0) })).toEqual([])
  expect(p.book.open[0]!.sentence).toBe('East bed: As it began.')
})

test.each(KINDS)('%s ends with the last probe of the bed', (kind) => {
  const p = player()
  p.look(T0, { water: finding(kind, 'As it began.', T0) })
  expect(p.look(T0 + HOUR, { water: water('unknown') })).toEqual([])
  expect(p.look(T0 + 2 * HOUR, { water: water('unknown'), spots: [] })).toMatchObject([
    { what: 'returned', alarm: { kind, state: 'returned' } },
  ])
  expect(p.book.open[0]!.sentence).toMatch(/No probe is left in the bed/)
})
