import { expect, test } from 'vitest'
import { createGate } from '#hub/accounts/gate.ts'
import { createSlowDown } from '#hub/accounts/slow-down.ts'
import { HOUR, MINUTE, SECOND } from '#hub/model/clock.ts'

const NOW = 1_780_000_000_000

test('a few wrong tries cost nothing, each further one doubles the wait up to a longest', () => {
  const slow = createSlowDown({ free: 4, longest: 5 * MINUTE, forget: HOUR })
  const waits: number[] = []
  let at = NOW
  for (let i = 0; i < 16; i++) {
    expect(slow.wait('a', at)).toBe(0)
    slow.begin('a', at)
    const wait = slow.wait('a', at)
    waits.push(wait / SECOND)
    at += wait
  }
  expect(waits).toEqual([0, 0, 0, 0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300, 300])
})

test('many at once are no way around: a try counts when it begins', () => {
  const slow = createSlowDown({ free: 2 })
  for (let i = 0; i < 3; i++) slow.begin('a', NOW)
  expect(slow.wait('a', NOW)).toBe(SECOND)
})

test('a right one forgets the wrong ones, time does too, and nobody else is touched', () => {
  const slow = createSlowDown({ free: 2, forget: 10 * MINUTE })
  for (let i = 0; i < 6; i++) slow.begin('a', NOW)
  expect(slow.wait('a', NOW)).toBe(8 * SECOND)
  expect(slow.wait('b', NOW)).toBe(0)
  slow.passed('a')
  expect(slow.wait('a', NOW)).toBe(0)
  for (let i = 0; i < 6; i++) slow.begin('a', NOW)
  slow.begin('a', NOW + HOUR)
  expect(slow.wait('a', NOW + HOUR)).toBe(0)
})

test('a clock that is set back locks nobody out for longer than the longest wait', () => {
  const slow = createSlowDown({ free: 0, longest: MINUTE })
  for (let i = 0; i < 20; i++) slow.begin('a', NOW)
  expect(slow.wait('a', NOW - 400 * HOUR)).toBe(MINUTE)
})

test('only so many are remembered: the one unused for longest is forgotten', () => {
  const slow = createSlowDown({ free: 0, most: 3 })
  for (const key of ['a', 'b', 'c', 'a', 'd']) slow.begin(key, NOW)
  expect(['a', 'b', 'c', 'd'].map((key) => slow.wait(key, NOW) > 0)).toEqual([
    true,
    false,
    true,
    true,
  ])
})

test('a gate lets so many run at once, the others in turn, and refuses when too many wait', async () => {
  const gate = createGate(2, 3)
  let running = 0
  let most = 0
  const order: number[] = []
  const work = (n: number) => async () => {
    running += 1
    most = Math.max(most, running)
    await new Promise((resolve) => setImmediate(resolve))
    running -= 1
    order.push(n)
    if (n === 2) throw new Error('one of them fails')
    return n
  }
  const passed = [1, 2, 3, 4, 5].map((n) => gate.pass(work(n)))
  expect(gate.pass(work(6))).toBeNull()
  const settled = await Promise.allSettled(
    passed.map((one) => one ?? Promise.reject(new Error('refused'))),
  )
  expect(settled.map(({ status }) => status)).toEqual([
    'fulfilled',
    'rejected',
    'fulfilled',
    'fulfilled',
    'fulfilled',
  ])
  expect(most).toBe(2)
  expect(order).toEqual([1, 2, 3, 4, 5])
  expect(await gate.pass(work(7))).toBe(7)
})
