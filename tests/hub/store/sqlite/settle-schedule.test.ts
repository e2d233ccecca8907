import { afterEach, beforeEach, expect, test, vi } from 'vitest'
import { settleSchedule } from '#hub/store/sqlite/settle-schedule.ts'

beforeEach(() => vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout', 'performance'] }))
afterEach(() => vi.useRealTimers())

/** A log of which each slice settles 10 rows. */
function schedule(held = false) {
  const state = { settled: 0, slices: 0, runs: 0, troubles: [] as unknown[], fails: false }
  const during: (() => void)[] = []
  const made = settleSchedule({
    settled: 0,
    held,
    slice() {
      during.shift()?.()
      if (state.fails) throw new Error('the disk is full')
      state.slices++
      state.settled += 10
      return state.settled
    },
    done: () => state.runs++,
    trouble: (error) => state.troubles.push(error),
  })
  return { ...made, state, during }
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

test('what comes while it runs is settled by the same run', async () => {
  const { grew, settle, state, during } = schedule()
  grew(5)
  during.push(
    () => grew(15),
    () => grew(25),
  )
  await settle()
  // Only what was known when it was asked is waited for; the rest follows within the run.
  await vi.waitFor(() => expect(state).toMatchObject({ settled: 30, runs: 1 }))
})

test('what comes just as a run ends is not left lying', async () => {
  const { grew, state, during } = schedule()
  // After the last slice, before anybody could be told that the run is over.
  during.push(() => queueMicrotask(() => grew(15)))
  grew(5)
  await vi.advanceTimersByTimeAsync(200)
  expect(state).toMatchObject({ settled: 10, runs: 1 })
  await vi.advanceTimersByTimeAsync(200)
  expect(state).toMatchObject({ settled: 20, runs: 2 })
})

test('one reading in a quiet time is settled within 0.2 s, whatever went before', async () => {
  const { grew, state } = schedule()
  for (const row of [1, 11, 21, 31]) {
    grew(row)
    await vi.advanceTimersByTimeAsync(200)
    expect(state.settled).toBe(row + 9)
  }
})

test('a crowded log is settled at once', async () => {
  const { grew, stop, state } = schedule()
  grew(100_001)
  await vi.advanceTimersByTimeAsync(1)
  expect(state.slices).toBeGreaterThan(0)
  await stop()
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

test('new rows do not make it try sooner what just failed', async () => {
  const { grew, state } = schedule()
  state.fails = true
  for (let row = 1; row <= 12; row++) {
    grew(row)
    await vi.advanceTimersByTimeAsync(150)
  }
  expect(state.troubles).toHaveLength(1)
  state.fails = false
  await vi.advanceTimersByTimeAsync(400)
  await vi.waitFor(() => expect(state.settled).toBe(20))
  // Once it works again it is as quick as before.
  grew(21)
  await vi.advanceTimersByTimeAsync(200)
  expect(state.settled).toBe(30)
})

test('stopped while somebody waits for it, it finishes the slice and says that it did not finish', async () => {
  const { grew, settle, stop, state } = schedule()
  grew(35)
  const asked = settle()
  const stopped = stop()
  await expect(asked).rejects.toMatchObject({ code: 'HUB_STORE_UNAVAILABLE', retry: false })
  await stopped
  expect(state).toMatchObject({ slices: 1, runs: 1 })
  await expect(settle()).rejects.toThrow('closed')
})

test('once stopped nothing runs any more', async () => {
  const { grew, stop, state } = schedule()
  grew(5)
  await stop()
  grew(50)
  await vi.advanceTimersByTimeAsync(5000)
  expect(state.slices).toBe(0)
})

test('held, it begins nothing that was planned before, and goes on once released', async () => {
  const { grew, hold, release, held, settle, state } = schedule()
  grew(15)
  hold()
  expect(held()).toBe(true)
  grew(35)
  await vi.advanceTimersByTimeAsync(10_000)
  expect(state.slices).toBe(0)
  await expect(settle()).rejects.toMatchObject({ code: 'HUB_STORE_UNAVAILABLE', retry: true })
  release()
  await vi.advanceTimersByTimeAsync(1000)
  await vi.waitFor(() => expect(state.settled).toBe(40))
})

test('held in the middle of a run, it stops behind the slice, and whoever waits for the run is told', async () => {
  const { grew, hold, release, settle, state, during } = schedule()
  grew(35)
  during.push(hold)
  await expect(settle()).rejects.toMatchObject({ code: 'HUB_STORE_UNAVAILABLE', retry: true })
  await vi.advanceTimersByTimeAsync(10_000)
  expect(state.slices).toBe(1)
  release()
  await settle()
  expect(state.settled).toBe(40)
})

test('a store that begins held waits for its release', async () => {
  const { grew, release, state } = schedule(true)
  grew(5)
  await vi.advanceTimersByTimeAsync(10_000)
  expect(state.slices).toBe(0)
  release()
  await vi.advanceTimersByTimeAsync(1000)
  expect(state.settled).toBe(10)
})
