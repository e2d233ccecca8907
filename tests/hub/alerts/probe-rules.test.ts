import { describe, expect, test } from 'vitest'
import { advance, advanceHub, advanceProbe } from '#hub/alerts/advance.ts'
import { acknowledge, shelve } from '#hub/alerts/operate.ts'
import type { ProbeLook } from '#hub/alerts/probe-look.ts'
import { CALIBRATE_EVERY } from '#hub/agronomy/electrode-limits.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { alarmBook, bedLook, hubLook, probeLook, T0 } from './looks.ts'

function player() {
  const book = alarmBook()
  return {
    book,
    look: (at: number, change: Partial<ProbeLook> = {}) =>
      book.take(advanceProbe(book.open, probeLook({ at, ...change }))),
  }
}

describe('a silent probe (three missing readings: common practice, no source)', () => {
  test('is told once three intervals have passed since its last reading, and not before', () => {
    const p = player()
    const lastAt = T0
    expect(p.look(T0 + 3 * HOUR - MINUTE, { lastAt })).toEqual([])
    expect(p.look(T0 + 3 * HOUR, { lastAt })).toMatchObject([
      { what: 'raised', alarm: { kind: 'probe-silent', subject: 'alder1', bedId: 1 } },
    ])
    expect(p.look(T0 + 9 * HOUR, { lastAt })).toEqual([])
    expect(p.book.open[0]!.sentence).toBe(
      'East bed: probe alder1 (north) is silent. It should send every hour; three readings or more are missing.',
    )
  })

  test('one that sleeps is awaited when it said it would be back', () => {
    const p = player()
    const asleep = { lastAt: T0, backAt: T0 + 6 * HOUR }
    expect(p.look(T0 + 7 * HOUR, asleep)).toEqual([])
    expect(p.look(T0 + 8 * HOUR - 1, asleep)).toEqual([])
    expect(p.look(T0 + 8 * HOUR, asleep)).toMatchObject([{ alarm: { kind: 'probe-silent' } }])
  })

  test('one that sends every minute is given half an hour', () => {
    const p = player()
    const often = { lastAt: T0, intervalMs: MINUTE }
    expect(p.look(T0 + 30 * MINUTE, often)).toEqual([])
    expect(p.look(T0 + 31 * MINUTE, often)).toHaveLength(1)
  })

  test('returns half an hour after it sends again; late by one reading it neither begins nor ends', () => {
    const p = player()
    p.look(T0 + 3 * HOUR, { lastAt: T0 })
    const back = T0 + 4 * HOUR
    expect(p.look(back, { lastAt: back })).toMatchObject([
      { what: null, alarm: { overSince: back } },
    ])
    // Late again: inside the deadband nothing is said either way.
    expect(p.look(back + 2 * HOUR, { lastAt: back })).toEqual([])
    // As silent as at first, it goes on.
    expect(p.look(back + 3 * HOUR, { lastAt: back })).toMatchObject([
      { what: null, alarm: { overSince: null } },
    ])
    const well = back + 4 * HOUR
    p.look(well, { lastAt: well })
    expect(p.look(well + 29 * MINUTE, { lastAt: well })).toEqual([])
    expect(p.look(well + 30 * MINUTE, { lastAt: well })).toMatchObject([
      { what: 'returned', alarm: { state: 'returned' } },
    ])
  })

  test('one that sends every minute returns though each look finds the next reading a little late', () => {
    const p = player()
    const often = (lastAt: number) => ({ lastAt, intervalMs: MINUTE })
    p.look(T0 + 31 * MINUTE, often(T0))
    const back = T0 + HOUR
    for (let minute = 0; minute <= 30; minute++) {
      const heard = back + minute * MINUTE
      p.look(heard + MINUTE / 2, often(heard))
      // Between the time it is due and its arrival.
      p.look(heard + MINUTE + 2000, often(heard))
    }
    expect(p.book.open).toMatchObject([{ state: 'returned', returnedAt: back + 30.5 * MINUTE }])
  })

  test('a hub that does not listen, or only just began to, says nothing', () => {
    const p = player()
    expect(p.look(T0 + 9 * HOUR, { lastAt: T0, listeningSince: null })).toEqual([])
    const began = T0 + 8 * HOUR
    expect(p.look(began + 2 * HOUR, { lastAt: T0, listeningSince: began })).toEqual([])
    expect(p.look(began + 3 * HOUR, { lastAt: T0, listeningSince: began })).toHaveLength(1)
    // Deaf again, it ends nothing either.
    expect(p.look(began + 4 * HOUR, { lastAt: began, listeningSince: null })).toEqual([])
  })

  test('one that never sent anything is told as that', () => {
    const p = player()
    p.look(T0 + 3 * HOUR, { lastAt: null, placedAt: T0 })
    expect(p.book.open[0]!.sentence).toMatch(/not sent a single reading/)
  })

  test('taken out of the beds it is out of service: nothing arises, what is open ends', () => {
    const p = player()
    expect(p.look(T0 + 9 * HOUR, { lastAt: T0, bedId: null })).toEqual([])
    p.look(T0 + 9 * HOUR, { lastAt: T0 })
    expect(p.look(T0 + 10 * HOUR, { lastAt: T0, bedId: null })).toMatchObject([
      { what: 'closed', alarm: { state: 'normal' } },
    ])
  })
})

describe('a low battery', () => {
  const low = (told: boolean[], levels: number[] = [], lowBelow = NaN): Partial<ProbeLook> => ({
    supply: { levels, unit: 'V', lowBelow, told },
  })

  test('is told when the probe says so with three readings in a row (flag 4 of the wire format)', () => {
    const p = player()
    expect(p.look(T0, low([true, true, false]))).toEqual([])
    expect(p.look(T0, low([true, true]))).toEqual([])
    expect(p.look(T0, low([true, true, true]))).toMatchObject([
      { what: 'raised', alarm: { kind: 'battery-low', priority: 'low' } },
    ])
  })

  test('or when three levels in a row are below the limit', () => {
    const p = player()
    expect(p.look(T0, low([], [3.39, 3.41, 3.39], 3.4))).toEqual([])
    expect(p.look(T0, low([], [3.39, 3.38, 3.39], 3.4))).toHaveLength(1)
    expect(p.book.open[0]!.sentence).toMatch(/is low: 3\.39 V/)
  })

  test('a cell that recovers a little does not end it; a charged one does, half a day later', () => {
    const p = player()
    p.look(T0, low([], [3.3, 3.3, 3.3], 3.4))
    expect(p.look(T0 + HOUR, low([], [3.5, 3.5, 3.5], 3.4))).toEqual([])
    p.look(T0 + 2 * HOUR, low([], [4.1, 4.1, 4.1], 3.4))
    expect(p.look(T0 + 13 * HOUR, low([], [4.1, 4.1, 4.1], 3.4))).toEqual([])
    expect(p.look(T0 + 14 * HOUR, low([], [4.1, 4.1, 4.1], 3.4))).toMatchObject([
      { what: 'returned' },
    ])
  })

  test('a voltage without a history is not judged, and no news ends nothing', () => {
    const p = player()
    expect(p.look(T0, low([], [2, 2, 2], NaN))).toEqual([])
    p.look(T0, low([true, true, true]))
    expect(p.look(T0 + HOUR, low([]))).toEqual([])
  })

  test('is part of the silence of the probe', () => {
    const p = player()
    p.look(T0 + HOUR / 2, { lastAt: T0, ...low([true, true, true]) })
    const steps = p.look(T0 + 3 * HOUR, { lastAt: T0, ...low([true, true, true]) })
    expect(steps.map(({ what, alarm }) => [what, alarm.kind])).toEqual([
      ['raised', 'probe-silent'],
      ['closed', 'battery-low'],
    ])
    expect(p.book.open[0]!.advice).toMatch(/battery was low/)
    expect(p.look(T0 + 4 * HOUR, { lastAt: T0, ...low([true, true, true]) })).toEqual([])
  })
})

describe('a calibration that is due (every 30 days: common practice, no source)', () => {
  test('is told as long again after that, once, and ends with a new one', () => {
    const p = player()
    const calibratedAt = T0
    const due = T0 + (CALIBRATE_EVERY.days + 30) * DAY
    const heard = (at: number) => ({ lastAt: at, calibratedAt })
    expect(p.look(due - 1, heard(due - 1))).toEqual([])
    expect(p.look(due, heard(due))).toMatchObject([{ alarm: { kind: 'calibration-due' } }])
    expect(p.book.open[0]!.sentence).toContain('for two months or more')
    expect(p.look(due + DAY, heard(due + DAY))).toEqual([])
    const now = due + 2 * DAY
    expect(p.look(now, { lastAt: now, calibratedAt: now })).toMatchObject([{ what: 'returned' }])
  })

  test('one never calibrated, or with nothing to calibrate, raises nothing', () => {
    expect(player().look(T0, { calibratedAt: null })).toEqual([])
  })
})

test('the fault of a probe that falls silent is part of its silence', () => {
  const p = player()
  const check = {
    probe: 'alder1',
    spot: 'north',
    kind: 'flat line',
    needsCheck: true,
    from: null,
    to: 6.5,
    since: T0,
    sentence: 'Probe alder1 has shown exactly the same value for hours.',
  } as const
  p.book.take(advance(p.book.open, bedLook({ probes: [check] }), T0))
  p.look(T0 + 3 * HOUR, { lastAt: T0 })
  p.book.take(advance(p.book.open, bedLook({ at: T0 + 3 * HOUR, probes: [check] }), T0 + 3 * HOUR))
  expect(p.book.open.map(({ kind }) => kind)).toEqual(['probe-silent'])
})

describe('what somebody has seen to is not taken from them by what passes over it', () => {
  const low: Partial<ProbeLook> = {
    supply: { levels: [], unit: 'V', lowBelow: NaN, told: [true, true, true] },
  }
  const until = T0 + 30 * DAY

  test('a shelved low battery is still on its shelf after the probe was silent for a day', () => {
    const p = player()
    p.look(T0, low)
    p.book.take([shelve(p.book.open[0]!, until, T0 + 1, { by: 'Ona' })])
    p.look(T0 + DAY, { ...low, lastAt: T0 })
    expect(p.book.open.map(({ kind }) => kind).toSorted()).toEqual(['battery-low', 'probe-silent'])
    p.look(T0 + DAY + HOUR, low)
    p.look(T0 + DAY + 2 * HOUR, low)
    expect(p.book.open.filter(({ kind }) => kind === 'battery-low')).toMatchObject([
      { id: 1, state: 'unacknowledged', shelvedUntil: until },
    ])
    expect(p.book.changes.filter(({ alarm }) => alarm.kind === 'battery-low')).toMatchObject([
      { what: 'raised' },
      { what: 'shelved' },
    ])
  })

  test('an acknowledged silence stays acknowledged while the broker is away', () => {
    const p = player()
    p.look(T0 + 3 * HOUR, { lastAt: T0 })
    p.book.take([acknowledge(p.book.open[0]!, T0 + 4 * HOUR, { by: 'Ona' })])
    const at = T0 + 5 * HOUR
    p.book.take(
      advanceHub(
        p.book.open,
        hubLook({
          at,
          troubles: [{ subject: 'broker', since: at - HOUR, sentence: 'The broker is away.' }],
        }),
      ),
    )
    expect(p.book.open).toHaveLength(2)
    expect(p.look(at, { lastAt: T0, listeningSince: null })).toEqual([])
    expect(p.book.open.find(({ kind }) => kind === 'probe-silent')).toMatchObject({
      id: 1,
      state: 'acknowledged',
    })
  })

  test('what nobody has seen yet is part of the silence as before', () => {
    const p = player()
    p.look(T0, low)
    p.look(T0 + DAY, { ...low, lastAt: T0 })
    expect(p.book.open.map(({ kind }) => kind)).toEqual(['probe-silent'])
  })
})
