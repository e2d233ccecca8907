import { afterEach, beforeEach, expect, test } from 'vitest'
import { DAY, HOUR } from '#hub/model/clock.ts'
import type { SpotDay } from '#hub/model/spot-day.ts'
import { openStores, type Stores } from '#hub/store/open.ts'
import { tempDir } from '../../support/temp-dir.ts'

const NOON = 20_000 * DAY + 12 * HOUR
let dir: ReturnType<typeof tempDir>
let stores: Stores
beforeEach(async () => {
  dir = tempDir()
  stores = await openStores(dir.path)
})
afterEach(async () => {
  await stores.close()
  dir[Symbol.dispose]()
})

const dayRow = (day: number, ph: number): SpotDay => ({
  bedId: 1,
  spotId: 2,
  probe: 'fern1',
  day,
  ph,
  hours: 20,
  moisture: NaN,
  available: 0.7,
  temperatureC: 12.5,
  apart: false,
})

test('a state comes back as it was: NaN, typed columns and all', async () => {
  const state = { level: NaN, rows: new Float64Array([1, NaN, 3]), spots: [{ probe: 'fern1' }] }
  await stores.memory.rememberWatch(1, {
    from: null,
    states: [{ hour: NOON, version: 3, state }],
    days: [],
  })
  const back = await stores.memory.recallWatch(1, 3, NOON)
  expect(back).toEqual({ bedId: 1, hour: NOON, version: 3, state })
  expect((back!.state as typeof state).rows).toBeInstanceOf(Float64Array)
  expect(await stores.memory.recallWatch(1, 4, NOON), 'another shape').toBeNull()
  expect(await stores.memory.recallWatch(1, 3, NOON - 1), 'too late').toBeNull()
  expect(await stores.memory.recallWatch(2, 3, NOON), 'another bed').toBeNull()
})

test('of old states only some are kept: midnights for two weeks, then one in thirty days', async () => {
  const first = NOON - 100 * DAY
  for (let hour = first; hour <= NOON; hour += 6 * HOUR) {
    await stores.memory.rememberWatch(1, {
      from: null,
      states: [{ hour, version: 1, state: { hour } }],
      days: [],
    })
  }
  const kept: number[] = []
  for (let at = NOON; at >= first;) {
    const found = await stores.memory.recallWatch(1, 1, at)
    if (found === null) break
    kept.push(found.hour)
    at = found.hour - 1
  }
  expect(kept[0]).toBe(NOON)
  expect(kept.slice(1).every((hour) => hour % DAY === 0)).toBe(true)
  const dense = kept.slice(1).filter((hour) => hour >= NOON - 14 * DAY)
  expect(dense).toHaveLength(14)
  const sparse = kept.slice(1).filter((hour) => hour < NOON - 14 * DAY)
  expect(sparse.length).toBeGreaterThanOrEqual(2)
  expect(sparse.every((hour) => (hour / DAY) % 30 === 0)).toBe(true)
})

test('going back drops what came later, and only that', async () => {
  const midnight = 20_000 * DAY
  await stores.memory.rememberWatch(1, {
    from: null,
    states: [
      { hour: midnight - DAY, version: 1, state: 'old' },
      { hour: midnight, version: 1, state: 'new' },
    ],
    days: [dayRow(midnight - 2 * DAY, 6.1), dayRow(midnight - DAY, 6.2)],
  })
  await stores.memory.rememberWatch(1, { from: midnight - DAY, states: [], days: [] })
  expect(await stores.memory.recallWatch(1, 1, Infinity)).toMatchObject({ state: 'old' })
  const days = await stores.memory.spotDays(1, 0, Infinity)
  expect(days).toEqual([dayRow(midnight - 2 * DAY, 6.1)])
})
