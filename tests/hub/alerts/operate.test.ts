import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { advance, closeForRetired } from '#hub/alerts/advance.ts'
import { acknowledge, dueUnshelved, remark, shelve, unshelve } from '#hub/alerts/operate.ts'
import type { Alarm } from '#hub/model/alarm.ts'
import { HOUR } from '#hub/model/clock.ts'
import { alarmBook, bedLook, stay, T0 } from './looks.ts'

const hand = { by: 'Ona', note: 'seen from the path' }
function raised(): Alarm {
  const book = alarmBook()
  book.take(advance([], bedLook({ stay: stay(0.3, 80) }), T0))
  return book.all[0]!
}

describe('what people do with an alarm', () => {
  test('is kept with who did it and why', () => {
    expect(acknowledge(raised(), T0 + 1, hand)).toMatchObject({
      what: 'acknowledged',
      at: T0 + 1,
      ...hand,
      alarm: { state: 'acknowledged', acknowledgedAt: T0 + 1 },
    })
    expect(remark(raised(), 'dug there', T0 + 2, null)).toMatchObject({
      what: 'noted',
      by: null,
      note: 'dug there',
      alarm: { state: 'unacknowledged' },
    })
  })

  test('shelving needs an end ahead, keeps the state, and ends by itself', () => {
    const alarm = raised()
    expect(shelve(alarm, T0, T0, hand)).toBeNull()
    expect(shelve({ ...alarm, state: 'normal' }, T0 + HOUR, T0, hand)).toBeNull()
    const shelved = shelve(alarm, T0 + HOUR, T0, hand)!.alarm
    expect(shelved).toMatchObject({ state: 'unacknowledged', shelvedUntil: T0 + HOUR })
    expect(dueUnshelved([shelved], T0 + HOUR - 1)).toEqual([])
    expect(dueUnshelved([shelved], T0 + HOUR)).toMatchObject([
      { what: 'unshelved', by: null, alarm: { shelvedUntil: null } },
    ])
    expect(unshelve(alarm, T0, hand)).toBeNull()
    expect(unshelve(shelved, T0 + 1, hand)).toMatchObject({ by: 'Ona' })
    // Put there again it gets the new end.
    expect(shelve(shelved, T0 + 3 * HOUR, T0 + 1, hand)!.alarm.shelvedUntil).toBe(T0 + 3 * HOUR)
  })

  test('what is over lies on no shelf', () => {
    const shelved = shelve({ ...raised(), state: 'returned' }, T0 + HOUR, T0, hand)!.alarm
    expect(acknowledge(shelved, T0 + 1, hand)!.alarm).toMatchObject({
      state: 'normal',
      shelvedUntil: null,
    })
    const [closed] = closeForRetired([shelved], T0 + 1)
    expect(closed!.alarm).toMatchObject({ state: 'normal', shelvedUntil: null })
  })
})

type Move =
  | { readonly do: 'look'; readonly hours: number; readonly beyond: number | null }
  | { readonly do: 'acknowledge' | 'shelve' | 'unshelve' | 'note'; readonly hours: number }

const moves: fc.Arbitrary<readonly Move[]> = fc.array(
  fc.oneof(
    {
      weight: 4,
      arbitrary: fc.record({
        do: fc.constant('look' as const),
        hours: fc.integer({ min: 1, max: 40 }),
        beyond: fc.option(fc.double({ min: -0.4, max: 0.6, noNaN: true })),
      }),
    },
    {
      weight: 1,
      arbitrary: fc.record({
        do: fc.constantFrom(
          'acknowledge' as const,
          'shelve' as const,
          'unshelve' as const,
          'note' as const,
        ),
        hours: fc.integer({ min: 0, max: 10 }),
      }),
    },
  ),
  { maxLength: 60 },
)

/** Plays moves against a bed whose level lies `beyond` its band; calls after each. */
function play(
  all: readonly Move[],
  after: (book: ReturnType<typeof alarmBook>, move: Move, before: readonly Alarm[]) => void,
): ReturnType<typeof alarmBook> {
  const book = alarmBook()
  let at = T0
  for (const move of all) {
    at += move.hours * HOUR
    const before = book.all
    book.take(dueUnshelved(book.open, at))
    if (move.do === 'look') {
      const seen = move.beyond === null ? null : stay(move.beyond, 96)
      book.take(advance(book.open, bedLook({ at, stay: seen }), at))
    } else {
      for (const alarm of book.open) {
        if (move.do === 'acknowledge') book.take([acknowledge(alarm, at, hand)])
        if (move.do === 'shelve') book.take([shelve(alarm, at + 5 * HOUR, at, hand)])
        if (move.do === 'unshelve') book.take([unshelve(alarm, at, hand)])
        if (move.do === 'note') book.take([remark(alarm, 'looked', at, null)])
      }
    }
    after(book, move, before)
  }
  return book
}

describe('whatever comes', () => {
  test('there is one open episode of a bed, kind and subject at most', () => {
    fc.assert(
      fc.property(moves, (all) => {
        play(all, (book) => {
          const keys = book.open.map(({ bedId, kind, subject }) => `${bedId} ${kind} ${subject}`)
          expect(new Set(keys).size).toBe(keys.length)
        })
      }),
    )
  })

  test('no acknowledgement is lost: it ends only with its episode, or because the condition came anew', () => {
    fc.assert(
      fc.property(moves, (all) => {
        play(all, (book, _, before) => {
          for (const was of before.filter(({ state }) => state === 'acknowledged')) {
            const is = book.all.find(({ id }) => id === was.id)!
            expect(['acknowledged', 'normal']).toContain(is.state)
            expect(is.acknowledgedAt).toBe(was.acknowledgedAt)
          }
        })
      }),
    )
  })

  test('nothing ends unseen: what nobody acknowledged is never normal', () => {
    fc.assert(
      fc.property(moves, (all) => {
        const book = play(all, () => undefined)
        for (const { state, acknowledgedAt } of book.all) {
          if (state === 'normal') expect(acknowledgedAt).not.toBeNull()
        }
      }),
    )
  })

  test('a level that stays inside the deadband neither raises nor ends anything', () => {
    const inside = fc.array(fc.double({ min: 0.101, max: 0.199, noNaN: true }), { maxLength: 60 })
    fc.assert(
      fc.property(inside, fc.boolean(), (levels, isOut) => {
        const first: Move[] = isOut ? [{ do: 'look', hours: 1, beyond: 0.3 }] : []
        const rest = levels.map((beyond): Move => ({ do: 'look', hours: 7, beyond }))
        const book = play([...first, ...rest], () => undefined)
        const told = book.changes.map(({ what }) => what).filter((what) => what !== 'changed')
        expect(told).toEqual(isOut ? ['raised'] : [])
      }),
    )
  })

  test('every change of state is kept, in the order of time', () => {
    fc.assert(
      fc.property(moves, (all) => {
        let kept = 0
        const book = play(all, (now, _, before) => {
          const fresh = now.changes.slice(kept)
          kept = now.changes.length
          for (const is of now.all) {
            const was = before.find(({ id }) => id === is.id)
            const changed = was?.state !== is.state || was.shelvedUntil !== is.shelvedUntil
            if (changed) expect(fresh.some(({ alarm }) => alarm.id === is.id)).toBe(true)
          }
        })
        const times = book.changes.map(({ at }) => at)
        expect(times).toEqual(times.toSorted((a, b) => a - b))
      }),
    )
  })
})
