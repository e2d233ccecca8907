import { describe, expect, test } from 'vitest'
import { HOUR } from '#hub/model/clock.ts'
import { dayAt, madeBed, probeOf, step, watched } from './watched-bed.ts'

describe('a step of the whole bed', () => {
  test.each([
    // The sum needs limit / (size - reference) hours: 1.5 / (d - 0.3); from 1 pH on the whole bed is told at once.
    { size: 1.5, most: 1 },
    { size: -1.3, most: 1 },
    { size: 0.7, most: 7 },
    { size: -0.55, most: 12 },
  ])('of $size pH is told within $most h, with size, onset and spots', ({ size, most }) => {
    for (let seed = 1; seed <= 5; seed++) {
      const { events, first } = watched(
        madeBed({ seed, days: 24, added: (_, day) => step(size, 20)(day) }),
      )
      expect(events, `seed ${seed}`).toHaveLength(1)
      const [event] = events
      expect(event!.form).toBe('step')
      expect(event!.cause).toBe('soil')
      expect(first.get(event!.id)!.cause).toBe('soil')
      expect(event!.noticedAt - dayAt(20)).toBeLessThanOrEqual(most * HOUR)
      expect(Math.abs(event!.onset - dayAt(20))).toBeLessThanOrEqual(3 * HOUR)
      expect(Math.abs(event!.size - size)).toBeLessThan(0.12)
      expect(Math.abs(event!.present - size)).toBeLessThan(0.15)
      expect(event!.spots.filter(({ moved }) => moved)).toHaveLength(3)
      expect(event!.decidedAt! - event!.noticedAt).toBe(24 * HOUR)
      for (const { spotId, before } of event!.spots) {
        expect(Math.abs(before - (6.1 + 0.2 * spotId))).toBeLessThan(0.1)
      }
    }
  })

  test('of 0.25 pH stays below what the chart is for', () => {
    for (let seed = 1; seed <= 5; seed++) {
      const { events } = watched(
        madeBed({ seed, days: 30, sd: 0.03, added: (_, day) => step(0.25, 20)(day) }),
      )
      expect(events).toEqual([])
    }
  })

  test('is told again when a second one follows, and each keeps its own size', () => {
    const { events } = watched(
      madeBed({
        seed: 3,
        days: 50,
        added: (_, day) => step(0.8, 20)(day) + step(-1.2, 35)(day),
      }),
    )
    expect(events.map(({ cause }) => cause)).toEqual(['soil', 'soil'])
    expect(Math.abs(events[0]!.size - 0.8)).toBeLessThan(0.12)
    expect(Math.abs(events[1]!.size + 1.2)).toBeLessThan(0.12)
    expect(Math.abs(events[1]!.present + 1.2)).toBeLessThan(0.15)
  })

  test('that goes away is over: recovered, and what is left of it is next to nothing', () => {
    const { events } = watched(
      madeBed({ seed: 4, days: 30, added: (_, day) => step(1.2, 20, 22)(day) }),
    )
    expect(events).toHaveLength(1)
    expect(events[0]!.state).toBe('recovered')
    expect(Math.abs(events[0]!.present)).toBeLessThan(0.25)
    expect(events[0]!.endedAt! - dayAt(22)).toBeGreaterThanOrEqual(12 * HOUR)
    expect(events[0]!.endedAt! - dayAt(22)).toBeLessThanOrEqual(40 * HOUR)
  })

  test('that stays is kept after 30 days, and its present is still what it was', () => {
    const bed = { seed: 5, added: (_: number, day: number) => step(1.2, 20)(day) }
    const early = watched(madeBed({ ...bed, days: 49 })).events
    expect(early[0]!.state).toBe('open')
    const { events } = watched(madeBed({ ...bed, days: 60 }))
    expect(events).toHaveLength(1)
    expect(events[0]!.state).toBe('kept')
    expect(events[0]!.endedAt! - events[0]!.noticedAt).toBe(30 * 24 * HOUR)
    expect(Math.abs(events[0]!.present - 1.2)).toBeLessThan(0.15)
  })
})

test('one probe that leaves the others is told as the probe, with that spot alone', () => {
  for (let seed = 1; seed <= 5; seed++) {
    const { events, days } = watched(
      madeBed({
        seed,
        days: 24,
        spots: 4,
        added: (spot, day) => (spot === 2 ? step(-1.1, 20.4)(day) : 0),
      }),
    )
    expect(events).toHaveLength(1)
    expect(events[0]!.cause).toBe('probe')
    expect(events[0]!.spots.flatMap((s) => (s.moved ? [s.probe] : []))).toEqual([probeOf(2)])
    expect(Math.abs(events[0]!.size + 1.1)).toBeLessThan(0.15)
    const apart = days.filter((day) => day.apart)
    expect(new Set(apart.map(({ probe }) => probe))).toEqual(new Set([probeOf(2)]))
    expect(apart.map(({ day }) => day)).toContain(dayAt(21))
  }
})

test('a bed of one spot that moves is never called soil or probe', () => {
  for (const size of [-1.5, -0.6, 0.6, 1.5]) {
    const { events, first } = watched(
      madeBed({ seed: 6, days: 26, spots: 1, added: (_, day) => step(size, 20)(day) }),
    )
    expect(events.map(({ cause }) => cause)).toEqual(['unconfirmed'])
    for (const { firstCause, cause } of first.values()) {
      expect([firstCause, cause]).toEqual(['unconfirmed', 'unconfirmed'])
    }
  }
})

test('nothing is told before there are four days to compare with', () => {
  const bed = (days: number, at: number) =>
    watched(madeBed({ seed: 7, days, added: (_, day) => step(1.5, at)(day) })).events
  expect(bed(4, 3)).toEqual([])
  const [event] = bed(8, 6)
  expect(event!.noticedAt - dayAt(6)).toBe(HOUR)
})

test('a single wild hour of one spot is no event', () => {
  const { events } = watched(
    madeBed({
      seed: 8,
      days: 26,
      added: (spot, day) => (spot === 0 && Math.round(day * 24) === 20 * 24 ? 6 : 0),
    }),
  )
  // One hour counts for at most 2 pH, so that it does exceed the limit; but it is back, and told as such.
  for (const event of events) {
    expect(event.cause).toBe('probe')
    expect(event.state).toBe('recovered')
    expect(Math.abs(event.size)).toBeLessThan(0.3)
  }
})

test('a spot that was silent while its bed moved joins the event when it is heard again', () => {
  const { events } = watched(
    madeBed({
      seed: 9,
      days: 32,
      added: (_, day) => step(1, 20)(day),
      silent: (spot, day) => spot === 1 && day >= 19 && day < 25,
    }),
  )
  expect(events).toHaveLength(1)
  expect(events[0]!.cause).toBe('soil')
})
