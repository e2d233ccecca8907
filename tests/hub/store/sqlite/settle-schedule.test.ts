import { afterEach, beforeEach, expect, test, vi } from 'vitest'
import { settleSchedule } from '#hub/store/sqlite/settle-schedule.ts'

beforeEach(() => vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout', 'performance'] }))
afterEach(() => vi.useRealTimers())

/** A log of which each slice settles 10 rows. */
function schedule() {
  const state = { settled: 0, slices: 0, runs: 0, troubles: [] as unknown[], fails: false }
  const made = settleSchedule({
    settled: 0,
    slice() {
      if (state.fails) throw new Error('the disk is full')
      state.slices++
      state.settled += 10
      return state.settled
    },
    done: () => state.runs++,
    trouble: (error) => state.troubles.push(error),
  })
  return { ...made, state }
}

test('it waits for a quiet moment, but not for ever', async () => {
  const { grew, state } = schedule()
  grew(1)
  await vi.advanceTimersByTimeAsync(100)
  expect(state.slices).toBe(0)
  await vi.advanceTimersByTimeAsync(100)
  expect(state.slices).toBe(1)
  for (let row = 11; row < 30; row++) {
    grew(row)
    await vi.advanceTimersByTimeAsync(60)
  }
  expect(state.slices).toBeGreaterThanOrEqual(2)
})

test('a crowded log is settled at once', async () => {
  const { grew, stop, state } = schedule()
  grew(20_001)
  await vi.advanceTimersByTimeAsync(1)
  expect(state.slices).toBeGreaterThan(0)
  stop()
})

test('asked to settle, it settles all there is, call after call', async () => {
  const { grew, settle, state } = schedule()
  await settle()
  expect(state.slices).toBe(0)
  for (const row of [5, 15, 48, 120]) {
    grew(row)
    await settle()
    expect(state.settled).toBeGreaterThanOrEqual(row)
  }
  await Promise.all([settle(), settle()])
  expect(state.slices).toBe(12)
})

test('what failed is told and tried again, and a call that waits for it rejects', async () => {
  const { grew, settle, state } = schedule()
  state.fails = true
  grew(5)
  await vi.advanceTimersByTimeAsync(200)
  expect(state.troubles).toEqual([new Error('the disk is full')])
  await expect(settle()).rejects.toThrow('the disk is full')
  await vi.advanceTimersByTimeAsync(2500)
  expect(state.troubles).toHaveLength(2)
  state.fails = false
  await vi.advanceTimersByTimeAsync(2500)
  expect(state.settled).toBe(10)
  expect(state.troubles).toHaveLength(2)
})

test('once stopped nothing runs any more', async () => {
  const { grew, stop, state } = schedule()
  grew(5)
  stop()
  grew(50)
  await vi.advanceTimersByTimeAsync(5000)
  expect(state.slices).toBe(0)
})
