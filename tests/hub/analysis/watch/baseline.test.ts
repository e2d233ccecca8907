import { expect, test } from 'vitest'
import { closeDay, rebase, usualLevel } from '#hub/analysis/watch/baseline.ts'
import { startSpot } from '#hub/analysis/watch/start-watch.ts'
import type { SpotState } from '#hub/analysis/watch/watch-state.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { START, dayAt } from './watched-bed.ts'

/** A day of hours `from` to `to` at one level, then midnight. */
function pass(spot: SpotState, day: number, level: number, from = 0, to = 24): void {
  for (let hour = from; hour < to; hour++) spot.todayPh[hour] = level
  closeDay(spot, dayAt(day) + DAY)
}

function started(): SpotState {
  const spot = startSpot(1, 'probe')
  closeDay(spot, START)
  return spot
}

test('three accepted days and the newest, which is not used yet, make a usual level', () => {
  const spot = started()
  for (const day of [0, 1, 2]) pass(spot, day, 6 + day / 10)
  expect(usualLevel(spot)).toBeNaN()
  pass(spot, 3, 9)
  expect(usualLevel(spot)).toBeCloseTo(6.1, 12)
})

test('a day needs ten hours', () => {
  const spot = started()
  for (const day of [0, 1, 2, 3, 4]) pass(spot, day, 6, 0, 9)
  expect(spot.keptDays).toBe(0)
  for (const day of [5, 6, 7, 8]) pass(spot, day, 6, 0, 10)
  expect(spot.keptDays).toBe(4)
  // Hours that were never heard take the middle of all.
  expect(spot.base[20]).toBeCloseTo(6, 12)
})

test('each hour has its own usual value, the median of the last seven days but the newest', () => {
  const spot = started()
  for (let day = 0; day < 12; day++) {
    for (let hour = 0; hour < 24; hour++) spot.todayPh[hour] = 6 + hour / 100 + day / 10
    closeDay(spot, dayAt(day) + DAY)
  }
  // Days 4 to 10.
  expect(spot.base[0]).toBeCloseTo(6.7, 12)
  expect(spot.base[23]).toBeCloseTo(6.93, 12)
})

test('days older than five weeks tell nothing, unless the spot is set aside', () => {
  const spot = started()
  for (const day of [0, 1, 2, 3]) pass(spot, day, 6)
  const aside = { ...structuredClone(spot), held: { since: dayAt(5), eventId: 'x' } }
  closeDay(spot, dayAt(30))
  expect(usualLevel(spot)).toBeCloseTo(6, 12)
  closeDay(spot, dayAt(40))
  expect(usualLevel(spot)).toBeNaN()
  closeDay(aside, dayAt(40))
  expect(usualLevel(aside)).toBeCloseTo(6, 12)
})

test('a new level becomes usual with all that is compared with it', () => {
  const spot = started()
  for (const day of [0, 1, 2, 3]) pass(spot, day, 6)
  spot.sums.above = 1.2
  spot.recent.hour[0] = START
  spot.recent.residual[0] = 0.8
  rebase(spot, 0.8)
  expect(usualLevel(spot)).toBeCloseTo(6.8, 12)
  expect(spot.sums.above).toBe(0)
  expect(spot.recent.residual[0]).toBeCloseTo(0, 12)
  closeDay(spot, dayAt(4) + HOUR)
  expect(usualLevel(spot)).toBeCloseTo(6.8, 12)
})

test('days that were taken in at the new level already are not moved twice', () => {
  const spot = started()
  for (const day of [0, 1, 2, 3]) pass(spot, day, 6)
  // Two days of the new level had joined before it could be compared: the usual one is still the old.
  for (const day of [4, 5]) pass(spot, day, 4.6)
  expect(usualLevel(spot)).toBeCloseTo(6, 12)
  spot.todayPh.fill(4.6, 0, 12)
  rebase(spot, -1.4)
  expect(usualLevel(spot)).toBeCloseTo(4.6, 12)
  for (const day of [6, 7, 8, 9]) {
    pass(spot, day, 4.6, 12)
    expect(usualLevel(spot)).toBeCloseTo(4.6, 12)
  }
  for (let row = 0; row < spot.keptDays * 24; row++) {
    if (!Number.isNaN(spot.days[row]!)) expect(spot.days[row]).toBeCloseTo(4.6, 12)
  }
})
