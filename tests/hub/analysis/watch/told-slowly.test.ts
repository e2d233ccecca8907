import { describe, expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import { dayAt, madeBed, probeOf, ramp, step, watched } from './watched-bed.ts'

describe('a slow change', () => {
  test.each([
    { size: 1.2, days: 25 },
    { size: -1.4, days: 28 },
    { size: 0.9, days: 12 },
  ])('of $size pH over $days days is told while it goes on or soon after', ({ size, days }) => {
    for (let seed = 1; seed <= 4; seed++) {
      const { events } = watched(
        madeBed({ seed, days: 75, added: (_, day) => ramp(size, 35, 35 + days)(day) }),
      )
      expect(events.length, `seed ${seed}`).toBeGreaterThanOrEqual(1)
      const [event] = events
      expect(event!.noticedAt).toBeGreaterThan(dayAt(35))
      expect(event!.noticedAt).toBeLessThanOrEqual(dayAt(35 + days + 5))
      expect(event!.onset).toBeGreaterThan(dayAt(29))
      expect(Math.sign(event!.size)).toBe(Math.sign(size))
      expect(event!.cause).toBe('soil')
      for (const other of events) expect(Math.sign(other.size)).toBe(Math.sign(size))
    }
  })

  test('of 0.35 pH within a month stays below what is told', () => {
    for (let seed = 1; seed <= 4; seed++) {
      const { events } = watched(
        madeBed({ seed, days: 75, added: (_, day) => ramp(0.35, 35, 60)(day) }),
      )
      expect(events).toEqual([])
    }
  })

  test('tells by present how far it has gone in the end', () => {
    const { events } = watched(
      madeBed({ seed: 5, days: 66, added: (_, day) => ramp(1.2, 35, 60)(day) }),
    )
    const furthest = Math.max(...events.map(({ present }) => present))
    expect(furthest).toBeGreaterThan(0.85)
    expect(furthest).toBeLessThan(1.35)
  })

  test('of one electrode alone is the probe', () => {
    for (let seed = 1; seed <= 4; seed++) {
      const { events } = watched(
        madeBed({
          seed,
          days: 75,
          spots: 4,
          added: (spot, day) => (spot === 3 ? ramp(1.1, 35, 60)(day) : 0),
        }),
      )
      expect(events.length).toBeGreaterThanOrEqual(1)
      for (const { cause, form, spots } of events) {
        expect(cause).toBe('probe')
        expect(form).toBe('ramp')
        expect(spots.flatMap((s) => (s.moved ? [s.probe] : []))).toEqual([probeOf(3)])
      }
    }
  })

  test('after a treatment that works this way is the treatment, of a lone spot unconfirmed', () => {
    const bed = {
      seed: 6,
      days: 70,
      added: (_: number, day: number) => ramp(0.9, 35, 60)(day),
      journal: [{ at: dayAt(33), kind: 'treatment' as const, material: 'ground limestone' }],
    }
    const several = watched(madeBed(bed)).events
    expect(several[0]).toMatchObject({ form: 'ramp', cause: 'treatment' })
    expect(several[0]!.evidence).toMatchObject({ journalId: 1, withinPlan: true })
    const alone = watched(madeBed({ ...bed, journal: [], spots: 1 })).events
    expect(alone[0]).toMatchObject({ form: 'ramp', cause: 'unconfirmed' })
  })
})

test('a step is told once: neither itself nor its days count as a slow change later', () => {
  for (const size of [-1.6, -0.8, 0.8, 1.6]) {
    for (const spots of [1, 2, 4]) {
      const { events } = watched(
        madeBed({ seed: 7, days: 80, spots, added: (_, day) => step(size, 40.6)(day) }),
      )
      expect(
        events.map(({ form }) => form),
        `${size} on ${spots}`,
      ).toEqual(['step'])
    }
  }
})

test('what a visit takes back is no slow change', () => {
  // 0.4 pH of drift in 40 days, taken away by a visit.
  const { events } = watched(
    madeBed({
      seed: 8,
      days: 80,
      added: (spot, day) => (spot === 0 && day < 40.4 ? 0.01 * day : 0),
      journal: [{ at: dayAt(40.4), kind: 'service', probe: probeOf(0) }],
    }),
  )
  for (const { cause, onset } of events) {
    expect(cause).toBe('service')
    expect(Math.abs(onset - dayAt(40.4))).toBeLessThan(DAY)
  }
})

test('a step too small to tell, that a visit left, adds nothing to a slow change', () => {
  const bed = (visited: boolean) =>
    watched(
      madeBed({
        seed: 9,
        days: 70,
        spots: 1,
        sd: 0.03,
        added: (_, day) => step(0.27, 40.4)(day) + ramp(0.38, 44, 64)(day),
        journal: visited ? [{ at: dayAt(40.4), kind: 'service', probe: probeOf(0) }] : [],
      }),
    ).events
  expect(bed(false)).toHaveLength(1)
  expect(bed(true)).toEqual([])
})
