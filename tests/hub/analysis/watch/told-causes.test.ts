import { expect, test } from 'vitest'
import { eventsOf } from '#hub/analysis/watch/events-of.ts'
import type { WatchHour } from '#hub/analysis/watch/hour-row.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { stepWatch } from '#hub/analysis/watch/step-watch.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { BED, BLANK, START, dayAt, madeBed, probeOf, step, watched } from './watched-bed.ts'

const handled = (from: number, to: number, hours: readonly WatchHour[], spotId: number) =>
  hours.map(({ hour, rows }) => ({
    hour,
    rows: rows.map((row) =>
      row.spotId === spotId && hour >= from && hour < to
        ? { ...row, ph: 7, moisture: 0.005, moistureLow: 0 }
        : row,
    ),
  }))

test('a step after a visit that was written down is the visit, whatever its size', () => {
  const at = dayAt(20) + 10 * HOUR
  for (const size of [0.5, -0.9]) {
    const { events } = watched(
      madeBed({
        seed: 1,
        days: 26,
        added: (spot, day) => (spot === 1 ? step(size, 20 + 10 / 24)(day) : 0),
        journal: [{ at, kind: 'service', probe: probeOf(1) }],
      }),
    )
    expect(events.map(({ cause }) => cause)).toEqual(['service'])
    expect(events[0]!.evidence).toMatchObject({ serviceAt: at, serviceLogged: true })
    expect(Math.abs(events[0]!.size - size)).toBeLessThan(0.12)
  }
})

test('a calibration is a visit of its probe, and of no other', () => {
  const at = dayAt(20) + 9 * HOUR
  const bed = (spot: number) =>
    madeBed({
      seed: 2,
      days: 26,
      added: (s, day) => (s === spot ? step(0.8, 20 + 10 / 24)(day) : 0),
      calibratedAt: new Map([[probeOf(1), [at]]]),
    })
  expect(watched(bed(1)).events.map(({ cause }) => cause)).toEqual(['service'])
  expect(watched(bed(2)).events.map(({ cause }) => cause)).toEqual(['probe'])
})

test('a visit nobody wrote down is seen by the electrode being out of the soil', () => {
  const bed = madeBed({
    seed: 3,
    days: 26,
    added: (spot, day) => (spot === 0 ? step(-0.8, 20.5)(day) : 0),
  })
  const hours = handled(dayAt(20) + 11 * HOUR, dayAt(20) + 13 * HOUR, bed.hours, 1)
  const { events } = watched({ ...bed, hours })
  expect(events.map(({ cause }) => cause)).toEqual(['service'])
  expect(events[0]!.evidence.serviceLogged).toBe(false)
})

test('readings from two hours before a visit written down too late do not count against the soil', () => {
  // In buffer for two hours; the note says it was an hour later.
  const bed = madeBed({
    seed: 4,
    days: 26,
    journal: [{ at: dayAt(20) + 13 * HOUR, kind: 'service', probe: probeOf(0) }],
  })
  const hours = bed.hours.map(({ hour, rows }) => ({
    hour,
    rows: rows.map((row) =>
      row.spotId === 1 && hour >= dayAt(20) + 11 * HOUR && hour < dayAt(20) + 13 * HOUR
        ? { ...row, ph: 4 }
        : row,
    ),
  }))
  const { events } = watched({ ...bed, hours })
  // What was told at once is a visit or nothing, never a fault or the soil.
  for (const { cause } of events) expect(cause).toBe('service')
})

test('what a probe shows from two hours before a visit to sixteen after it counts for nothing', () => {
  const hour = 1 / 24
  const visit = 20.5
  const { events } = watched(
    madeBed({
      seed: 17,
      days: 26,
      sd: 0.03,
      added: (spot, day) => {
        const since = (day - visit) / hour
        if (spot !== 0) return 0
        // Just short of the limit before, far off while it settles, and two hours more: enough if it all counted.
        if (since >= -2 && since < 0) return -0.9
        if (since >= 0 && since < 15.5) return 1.2
        return since >= 15.5 && since < 17.5 ? -0.75 : 0
      },
      journal: [{ at: dayAt(visit), kind: 'service', probe: probeOf(0) }],
    }),
  )
  expect(events).toEqual([])
})

test('a step that begins within two days of a visit is the visit, one that begins later is not', () => {
  const causes = (after: number) =>
    watched(
      madeBed({
        seed: 18,
        days: 28,
        added: (spot, day) => (spot === 0 ? step(0.9, 20 + after / 24)(day) : 0),
        journal: [{ at: dayAt(20), kind: 'service', probe: probeOf(0) }],
      }),
    ).events.map(({ cause }) => cause)
  expect(causes(46)).toEqual(['service'])
  expect(causes(56)).toEqual(['probe'])
})

test('a visit that changes nothing is no event', () => {
  const { events } = watched(
    madeBed({
      seed: 5,
      days: 40,
      journal: [15, 28].map((day) => ({ at: dayAt(day), kind: 'service', probe: probeOf(0) })),
    }),
  )
  expect(events).toEqual([])
})

/** Dries from wet to a tenth of the available water, then is soaked. */
const drying = (day: number): number =>
  day < 18 ? 0.26 : day < 28 ? 0.26 - 0.012 * (day - 18) : 0.26

test('a fall in soil that has dried out is poor contact, and is over when water comes', () => {
  const { events } = watched(
    madeBed({
      seed: 6,
      days: 40,
      moisture: drying,
      added: (_, day) => (day >= 25 && day < 28 ? -0.9 : 0),
    }),
  )
  expect(events.map(({ cause }) => cause)).toEqual(['dry contact'])
  expect(events[0]!.state).toBe('recovered')
  expect(events[0]!.evidence.leastAvailable).toBeLessThan(0.5)
})

test('dry soil does not explain a rise', () => {
  const { events } = watched(
    madeBed({ seed: 7, days: 27, moisture: drying, added: (_, day) => step(0.8, 25)(day) }),
  )
  expect(events.map(({ cause }) => cause)).toEqual(['soil'])
})

/** Soaked at day 20, drains within days. */
const soaked = (day: number): number => (day < 20 ? 0.2 : 0.2 + 0.08 * Math.exp(-(day - 20) / 6))
const dip = (size: number) => (day: number) => (day < 20.1 ? 0 : size * Math.exp(-(day - 20.1) / 4))

test('a fall with rain that comes back is water from first to last', () => {
  const { events, first } = watched(
    madeBed({ seed: 8, days: 45, moisture: soaked, added: (_, day) => dip(-0.7)(day) }),
  )
  expect(events.map(({ cause }) => cause)).toEqual(['water'])
  expect(first.get(events[0]!.id)!.cause).toBe('water')
  expect(events[0]!.evidence.wetting).toBeGreaterThan(0.1)
  expect(events[0]!.state).toBe('recovered')
})

test('a fall with rain that does not come back within ten days is the soil after all', () => {
  const { events } = watched(
    madeBed({ seed: 9, days: 45, moisture: soaked, added: (_, day) => step(-0.7, 20.1)(day) }),
  )
  expect(events.map(({ firstCause, cause }) => [firstCause, cause])).toEqual([['water', 'soil']])
  expect(events[0]!.decidedAt! - events[0]!.noticedAt).toBeGreaterThanOrEqual(10 * DAY)
})

test('a fall by a whole unit is more than water does', () => {
  const { events } = watched(
    madeBed({ seed: 10, days: 24, moisture: soaked, added: (_, day) => step(-1.3, 20.1)(day) }),
  )
  expect(events.map(({ cause }) => cause)).toEqual(['soil'])
})

test('a small change with a jump of soil temperature is the water that brought it', () => {
  const { events } = watched(
    madeBed({
      seed: 11,
      days: 26,
      celsius: (day) => (day < 20 || day > 22 ? 17 : 6),
      added: (_, day) => step(0.45, 20, 22)(day),
    }),
  )
  expect(events.map(({ cause }) => cause)).toEqual(['water'])
  expect(events[0]!.evidence.warming).toBeLessThan(-8)
})

test('a treatment explains a change in its own direction, and says whether it was too much', () => {
  const bed = (size: number, material: string) =>
    watched(
      madeBed({
        seed: 12,
        days: 24,
        added: (_, day) => step(size, 20)(day),
        journal: [{ at: dayAt(18), kind: 'treatment', material, amountG: 300 }],
      }),
    ).events[0]!
  expect(bed(0.8, 'ground limestone')).toMatchObject({
    cause: 'treatment',
    evidence: { journalId: 1, withinPlan: true },
  })
  expect(bed(1.6, 'ground limestone')).toMatchObject({
    cause: 'treatment',
    evidence: { journalId: 1, withinPlan: false },
  })
  expect(bed(0.8, 'elemental sulfur')).toMatchObject({
    cause: 'soil',
    evidence: { journalId: null },
  })
})

test('what is written into the journal later does not change what is told now', () => {
  const bed = madeBed({ seed: 13, days: 21, added: (_, day) => step(0.8, 20)(day) })
  const later = [
    { ...BLANK, id: 9, at: dayAt(25), kind: 'treatment' as const, material: 'ground limestone' },
  ]
  const told = watched({ ...bed, context: { ...bed.context, journal: later } })
  expect(told.events).toEqual(watched(bed).events)
})

test('other beds that moved the same way within a day are named', () => {
  const bed = madeBed({ seed: 14, days: 24, added: (_, day) => step(-0.8, 20)(day) })
  const one = watched(bed).events[0]!
  const others = [
    { ...one, bedId: 3, onset: one.onset - 20 * HOUR, noticedAt: one.noticedAt - HOUR },
    { ...one, bedId: 4, onset: one.onset - 40 * HOUR, noticedAt: one.noticedAt - HOUR },
    { ...one, bedId: 5, size: 0.8, noticedAt: one.noticedAt - HOUR },
    { ...one, bedId: 6, noticedAt: one.noticedAt + 30 * DAY },
  ]
  const { events } = watched({ ...bed, context: { ...bed.context, others } })
  expect(events[0]!.evidence.otherBeds).toEqual([3])
})

test('a new probe in an old spot is learned anew and is no change of the soil', () => {
  const { state, events } = watched(
    madeBed({
      seed: 15,
      days: 40,
      added: (spot, day) => (spot === 1 && day >= 20 ? 0.9 : 0),
      probe: (spot, day) => (spot === 1 && day >= 20 ? 'fresh' : probeOf(spot)),
    }),
  )
  expect(events).toEqual([])
  expect(state.spots.map(({ spotId, probe }) => `${spotId} ${probe}`)).toEqual([
    '1 probe-0',
    '2 fresh',
    '2 probe-1',
    '3 probe-2',
  ])
})

test('a stuck input does not count: neither as level nor as fault', () => {
  const bed = madeBed({ seed: 16, days: 30 })
  const hours = bed.hours.map(({ hour, rows }) => ({
    hour,
    rows: rows.map((row) =>
      row.spotId === 1 && hour >= dayAt(20) ? { ...row, ph: 7.4, raw: -23.2, still: true } : row,
    ),
  }))
  const state = startWatch(BED, START)
  for (const hour of hours) stepWatch(state, hour, bed.context)
  expect(eventsOf(state).every(({ cause }) => cause === 'probe')).toBe(true)
  expect(state.spots[0]!.lastPh).toBeLessThan(dayAt(20) + 3 * HOUR)
})
