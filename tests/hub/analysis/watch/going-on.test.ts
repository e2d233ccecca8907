import { expect, test } from 'vitest'
import { HOUR } from '#hub/model/clock.ts'
import { type MadeBedOptions, dayAt, madeBed, probeOf, step, watched } from './watched-bed.ts'

/** Causes in the order of notice; sizes are checked against what was made. */
function told(options: MadeBedOptions, sizes: readonly number[]): readonly string[] {
  const { events } = watched(madeBed(options))
  for (const [i, { size }] of events.entries()) {
    expect(Math.abs(size - sizes[i]!)).toBeLessThan(0.2)
  }
  return events.map(({ cause }) => cause)
}

const serviceOf = (spot: number, day: number) => ({
  at: dayAt(day),
  kind: 'service' as const,
  probe: probeOf(spot),
})

test('the level a visit leaves is taken once, also when the chart has told the step', () => {
  for (let seed = 1; seed <= 4; seed++) {
    const bed = {
      seed,
      days: 45,
      added: (spot: number, day: number) => (spot === 0 ? step(0.9, 20.4)(day) : 0),
      journal: [serviceOf(0, 20.4)],
    }
    const { events, state } = watched(madeBed(bed))
    expect(events.map(({ cause }) => cause)).toEqual(['service'])
    expect(events[0]!.state).toBe('kept')
    expect(Math.abs(events[0]!.size - 0.9)).toBeLessThan(0.12)
    expect(Math.abs(state.spots[0]!.rebased - 0.9)).toBeLessThan(0.12)
  }
})

test('a probe that was silent right after its visit shows the visit when it is heard again', () => {
  expect(
    told(
      {
        seed: 2,
        days: 40,
        added: (spot, day) => (spot === 1 ? step(0.9, 20)(day) : 0),
        silent: (spot, day) => spot === 1 && day > 20.3 && day < 24,
        journal: [serviceOf(1, 20)],
      },
      [0.9],
    ),
  ).toEqual(['service'])
})

test('a change well after a visit is no visit, however long its level took to be known', () => {
  expect(
    told(
      {
        seed: 3,
        days: 40,
        added: (spot, day) => (spot === 1 ? step(1.2, 24.6)(day) : 0),
        silent: (spot, day) => spot === 1 && day > 20.3 && day < 24,
        journal: [serviceOf(1, 20)],
      },
      [1.2],
    ),
  ).toEqual(['probe'])
})

test('a visit while a spot stands aside for the soil is told apart from it, and the soil goes on', () => {
  const { events } = watched(
    madeBed({
      seed: 4,
      days: 40,
      added: (spot, day) => step(1, 20)(day) + (spot === 0 ? step(-0.8, 21.2)(day) : 0),
      journal: [serviceOf(0, 21.2)],
    }),
  )
  expect(events.map(({ cause }) => cause)).toEqual(['soil', 'service'])
  expect(Math.abs(events[0]!.present - 1)).toBeLessThan(0.15)
  expect(Math.abs(events[1]!.size + 0.8)).toBeLessThan(0.15)
})

test('a fault of another probe while one stands aside is an event of its own', () => {
  expect(
    told(
      {
        seed: 5,
        days: 24,
        spots: 4,
        added: (spot, day) =>
          (spot === 0 ? step(-0.9, 20)(day) : 0) + (spot === 3 ? step(1.7, 20.6)(day) : 0),
      },
      [-0.9, 1.7],
    ),
  ).toEqual(['probe', 'probe'])
})

test('one dry spell is one event, however the spots lose and find contact', () => {
  const { events } = watched(
    madeBed({
      seed: 6,
      days: 45,
      moisture: (day) => (day > 20 && day < 32 ? 0.14 : 0.26),
      added: (spot, day) => (day > 21 + spot * 3 && day < 32 ? -0.9 : 0),
    }),
  )
  expect(events.map(({ cause }) => cause)).toEqual(['dry contact'])
})

test('what water does right after a dry spell is told as water', () => {
  const { events } = watched(
    madeBed({
      seed: 7,
      days: 45,
      moisture: (day) => (day > 20 && day < 26 ? 0.14 : 0.26),
      added: (_, day) =>
        (day > 21 && day < 26 ? -0.9 : 0) + (day >= 26.1 ? -0.75 * Math.exp(-(day - 26.1) / 5) : 0),
    }),
  )
  expect(events.map(({ cause }) => cause)).toEqual(['dry contact', 'water'])
})

test('an event whose bed falls silent is settled by what was known, and waits with its end', () => {
  const silent = (_: number, day: number): boolean => day > 20.3 && day < 27
  const { events } = watched(
    madeBed({ seed: 8, days: 27.2, added: (_, day) => step(1.1, 20)(day), silent }),
  )
  expect(events.map(({ cause, state }) => [cause, state])).toEqual([['soil', 'open']])
  expect(Math.abs(events[0]!.size - 1.1)).toBeLessThan(0.12)
})

test('a spot that is silent when its time aside ends takes its new level once it is heard', () => {
  expect(
    told(
      {
        seed: 9,
        days: 45,
        added: (_, day) => step(1.1, 20)(day),
        silent: (spot, day) => spot === 2 && day > 21.2 && day < 24.5,
      },
      [1.1],
    ),
  ).toEqual(['soil'])
})

test('after weeks without a reading the old level still counts, after months it is learned anew', () => {
  const bed = (from: number, to: number): MadeBedOptions => ({
    seed: 10,
    days: to + 15,
    added: (_, day) => (day > to ? 1 : 0),
    silent: (_, day) => day > from && day < to,
  })
  expect(told(bed(20, 34), [1])).toEqual(['soil'])
  expect(told(bed(20, 80), [])).toEqual([])
})

test('two probes in one spot are one voice', () => {
  const made = madeBed({
    seed: 11,
    days: 24,
    spots: 3,
    added: (spot, day) => (spot === 2 ? step(1.2, 20)(day) : 0),
  })
  // The third probe sits next to the second: of two spots one has not moved, and half of the other.
  const hours = made.hours.map(({ hour, rows }) => ({
    hour,
    rows: rows.map((row) => (row.spotId === 3 ? { ...row, spotId: 2 } : row)),
  }))
  const { events } = watched({ ...made, hours })
  expect(events.map(({ cause }) => cause)).toEqual(['probe'])
  expect(events[0]!.spots.flatMap((s) => (s.moved ? [s.probe] : []))).toEqual([probeOf(2)])
})

test('signs from before a silence are no part of a step after it', () => {
  const { events } = watched(
    madeBed({
      seed: 12,
      days: 26,
      added: (_, day) => step(0.8, 19.96, 20.1)(day) + step(0.8, 23)(day),
      silent: (_, day) => day > 20.1 && day < 22,
    }),
  )
  expect(events.length).toBeGreaterThan(0)
  for (const { onset } of events) expect(onset).toBeGreaterThanOrEqual(dayAt(23) - 3 * HOUR)
})
