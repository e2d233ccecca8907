import fc from 'fast-check'
import { expect, test } from 'vitest'
import { eventsOf } from '#hub/analysis/watch/events-of.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { stepWatch } from '#hub/analysis/watch/step-watch.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import {
  BED,
  START,
  dayAt,
  type MadeBed,
  madeBed,
  probeOf,
  ramp,
  step,
  watched,
} from './watched-bed.ts'

/** A bed in which a lot happens: steps, a slow change, rain, silence, a visit, a fault, dry soil. */
function busyBed(seed: number): MadeBed {
  return madeBed({
    seed,
    days: 75,
    moisture: (day) => 0.27 - 0.012 * (day % 12) + (day > 50 && day < 56 ? -0.1 : 0),
    added: (spot, day) =>
      step(0.8, 14.3)(day) +
      (spot === 1 ? step(-1.2, 24.7)(day) : 0) +
      (spot === 2 ? step(0.6, 33.5)(day) : 0) +
      ramp(-1.1, 40, 60)(day) +
      (day > 51 && day < 55 ? -0.8 : 0),
    silent: (spot, day) => (spot === 0 && day > 27 && day < 29.5) || (day > 36 && day < 37.2),
    journal: [
      { at: dayAt(33.45), kind: 'service', probe: probeOf(2) },
      { at: dayAt(38), kind: 'treatment', material: 'elemental sulfur' },
    ],
  })
}

test('the same comes out with restarts between any hours, stored and read back', () => {
  const plain = new Map(
    [1, 2].map((seed) => {
      const { days, events, state } = watched(busyBed(seed))
      expect(new Set(events.map(({ cause }) => cause)).size).toBeGreaterThan(2)
      return [seed, { days, events: structuredClone(events), state }]
    }),
  )
  fc.assert(
    fc.property(
      fc.constantFrom(1, 2),
      fc.array(fc.integer({ min: 0, max: 75 * 24 }), { minLength: 1, maxLength: 12 }),
      (seed, restarts) => {
        const { hours, context } = busyBed(seed)
        let state = startWatch(BED, START)
        const days = []
        const at = new Set(restarts)
        for (const [i, hour] of hours.entries()) {
          if (at.has(i)) state = structuredClone(state)
          days.push(...stepWatch(state, hour, context))
        }
        const once = plain.get(seed)!
        expect(days).toEqual(once.days)
        expect(eventsOf(state)).toEqual(once.events)
        expect(state).toEqual(once.state)
      },
    ),
    { numRuns: 12, seed: 4 },
  )
})

test('the order of the rows within an hour does not matter', () => {
  const { hours, context } = busyBed(3)
  const once = watched({ hours, context })
  const turned = hours.map(({ hour, rows }, i) => {
    const cut = i % rows.length
    return { hour, rows: [...rows.slice(cut), ...rows.slice(0, cut)].toReversed() }
  })
  const again = watched({ hours: turned, context })
  expect(again.events).toEqual(once.events)
  expect(again.days).toEqual(once.days)
})

test('hours without a row may be left out or handed in empty', () => {
  const { hours, context } = busyBed(4)
  const once = watched({ hours, context })
  const byHour = new Map(hours.map((hour) => [hour.hour, hour]))
  const every = Array.from({ length: 75 * 24 }, (_, i) => {
    const hour = START + i * HOUR
    return byHour.get(hour) ?? { hour, rows: [] }
  })
  expect(every.length).toBeGreaterThan(hours.length)
  const again = watched({ hours: every, context })
  expect(again.events).toEqual(once.events)
  expect(again.days).toEqual(once.days)
})

test('an hour before the cursor is passed over', () => {
  const { hours, context } = madeBed({ seed: 5, days: 10 })
  const state = startWatch(BED, START)
  for (const hour of hours) stepWatch(state, hour, context)
  const before = structuredClone(state)
  expect(stepWatch(state, hours[30]!, context)).toEqual([])
  expect(state).toEqual(before)
})

test('each spot and day with any hour gives one row when the day is over, and only then', () => {
  const bed = madeBed({
    seed: 6,
    days: 12,
    silent: (spot, day) => (spot === 1 && day >= 3 && day < 5.5) || (day >= 8 && day < 9),
  })
  const state = startWatch(BED, START)
  const given: string[] = []
  for (const hour of bed.hours) {
    for (const row of stepWatch(state, hour, bed.context)) {
      expect(row.day + DAY).toBeLessThanOrEqual(hour.hour)
      given.push(`${row.spotId} ${(row.day - START) / DAY}`)
      if (row.spotId === 2 && row.day === dayAt(5)) expect(row.hours).toBe(12)
      else expect(row.hours).toBe(24)
      expect(Math.abs(row.ph - (6.1 + 0.2 * row.spotId))).toBeLessThan(0.15)
      expect(Math.abs(row.temperatureC - 15)).toBeLessThan(0.2)
      expect(Math.abs(row.moisture - 0.25)).toBeLessThan(0.01)
      expect(row.bedId).toBe(BED.id)
    }
  }
  const expected: string[] = []
  for (let day = 0; day < 11; day++) {
    for (const spot of [1, 2, 3]) {
      if (day !== 8 && !(spot === 2 && (day === 3 || day === 4))) expected.push(`${spot} ${day}`)
    }
  }
  expect(given.toSorted()).toEqual(expected.toSorted())
})

/** Numbers, strings and lists in all, wherever they are. */
function sizeOf(value: unknown): number {
  if (ArrayBuffer.isView(value)) return value.byteLength / 8
  if (typeof value !== 'object' || value === null) return 1
  return Object.values(value).reduce<number>((sum, part) => sum + sizeOf(part), 1)
}

test('what is remembered does not grow over three years', () => {
  const year = 365
  const { hours, context } = madeBed({
    seed: 7,
    days: 3 * year,
    spots: 2,
    moisture: (day) => 0.27 - 0.01 * (day % 9),
    added: (_, day) => (Math.floor(day / 25) % 2 === 0 ? 0 : 0.9),
  })
  const state = startWatch(BED, START)
  const sizes: number[] = []
  for (const [i, hour] of hours.entries()) {
    stepWatch(state, hour, context)
    if (i === 1.5 * year * 24 || i === hours.length - 1) sizes.push(sizeOf(state))
  }
  expect(sizes[0]).toBeLessThan(8000)
  expect(sizes[1]).toBeLessThan(sizes[0]! * 1.1)
  // Events are remembered for 400 days.
  const { events } = state
  expect(events.length).toBeGreaterThan(10)
  expect(events.every(({ noticedAt }) => noticedAt > state.cursor - 401 * DAY)).toBe(true)
}, 60_000)
