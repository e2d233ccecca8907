import { expect, test } from 'vitest'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { spotHistory } from '#hub/analysis/measure/spot-history.ts'
import { FLAG, checkHistory } from '#hub/analysis/quality/flags.ts'
import { seededRandom } from '#tests/support/random.ts'
import { NOW, type ProbeRows, type Row, feed } from './case.ts'

const spots = [{ id: 1, bedId: 1, name: 'north' }]

function checked(rows: ProbeRows, step: 'raw' | 'hour' = 'raw') {
  return checkHistory(spotHistory(feed(rows, 0, spots, step, 0, NOW + DAY), step), 'loam')
}

function every(minutes: number, hours: number, value: (i: number) => number): Row[] {
  return Array.from({ length: (hours * 60) / minutes }, (_, i) => ({
    at: NOW - hours * HOUR + i * minutes * MINUTE,
    value: value(i),
  }))
}

test('values no soil has, and temperatures no electrode works at', () => {
  const ph = [6, 2.4, 11.1, 0, 14, 6, NaN].map((value, i) => ({ at: NOW + i * HOUR, value }))
  const temperature = [20, 20, 20, 20, 20, 1, 20].map((value, i) => ({ at: NOW + i * HOUR, value }))
  const { flags } = checked({ spot: 'north', ph, temperature })
  expect(Array.from(flags)).toEqual([
    0,
    FLAG.range,
    FLAG.range,
    FLAG.range,
    FLAG.range,
    FLAG.temperature,
    FLAG.missing,
  ])
})

test('twelve identical readings over three hours are a stuck probe, eleven or a short run are not', () => {
  const random = seededRandom(5)
  const noisy = (): number => 6 + 0.02 * random()
  const stuck = checked({
    spot: 'north',
    ph: every(15, 12, (i) => (i >= 20 && i < 33 ? 6.01 : noisy())),
  })
  const at = Array.from(stuck.flags.keys()).filter((row) => (stuck.flags[row]! & FLAG.flat) !== 0)
  expect(at).toEqual([21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 32])
  const short = checked({
    spot: 'north',
    ph: every(15, 12, (i) => (i >= 20 && i < 31 ? 6.01 : noisy())),
  })
  expect(Math.max(...short.flags)).toBe(0)
  const fast = checked({ spot: 'north', ph: every(1, 4, (i) => (i < 60 ? 6.01 : noisy())) })
  expect(Math.max(...fast.flags), 'an hour of equal minutes').toBe(0)
})

test('a probe that shows only tenths may stand still for most of a day', () => {
  const day = every(15, 60, (i) => (i < 20 ? 6 : i < 100 ? 6.1 : i < 110 ? 6.2 : 6.3))
  const { flags } = checked({ spot: 'north', ph: day })
  expect(flags[90], 'twenty hours on one tenth').toBe(0)
  expect(flags[200]! & FLAG.flat, 'thirty hours on one tenth').toBe(FLAG.flat)
})

test('rolled-up hours that never differ are a stuck probe', () => {
  const random = seededRandom(6)
  const { flags } = checked(
    { spot: 'north', ph: every(15, 24, (i) => (i >= 40 && i < 64 ? 6.01 : 6 + 0.02 * random())) },
    'hour',
  )
  expect(Array.from(flags, (flag) => flag & FLAG.flat)).toEqual(
    Array.from({ length: 24 }, (_, hour) => (hour >= 10 && hour < 16 ? FLAG.flat : 0)),
  )
})

test('dry soil gates a pH, moist and unknown soil do not', () => {
  const random = seededRandom(7)
  const ph = every(60, 24 * 20, () => 6 + 0.02 * random())
  // Field capacity of loam 0.28, wilting point 0.14: 0.20 is 43 % of the available water, 0.25 is 79 %.
  const moisture = every(60, 24 * 20, (i) => (i < 300 ? 0.28 : i < 400 ? 0.25 : 0.2))
  const { flags, available } = checked({ spot: 'north', ph, moisture }, 'hour')
  expect(flags[350]).toBe(0)
  expect(available[350]).toBeCloseTo(0.786, 2)
  expect(flags[450]).toBe(FLAG.dry)
  expect(available[450]).toBeCloseTo(0.429, 2)
  const unknown = checked({ spot: 'north', ph }, 'hour')
  expect(Math.max(...unknown.flags)).toBe(0)
  expect(unknown.available[450]).toBeNaN()
})

test('field capacity is learned from the bed, but a long drought is not mistaken for it', () => {
  const random = seededRandom(8)
  const ph = every(60, 24 * 20, () => 6 + 0.02 * random())
  // A compost-rich fill that holds far more than loam: 0.30 is moist loam, but dry for this bed.
  const rich = every(60, 24 * 20, (i) => (i < 300 ? 0.45 : 0.3))
  expect(checked({ spot: 'north', ph, moisture: rich }, 'hour').flags[400]).toBe(FLAG.dry)
  const drought = every(60, 24 * 20, () => 0.08)
  expect(checked({ spot: 'north', ph, moisture: drought }, 'hour').flags[400]).toBe(FLAG.dry)
})
