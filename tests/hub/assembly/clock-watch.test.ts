import { expect, test } from 'vitest'
import { clockSetNote, clockWatch } from '#hub/assembly/clock-watch.ts'

const HOUR = 3_600_000

test('a clock that goes on as time does is no news; one that is set is told once', () => {
  let now = 1_790_000_000_000
  let count = 5000
  const look = clockWatch(
    () => now,
    () => count,
  )
  const pass = (ms: number): void => {
    now += ms
    count += ms
  }
  pass(400 * 24 * HOUR)
  expect(look()).toBeNull()
  // A time server nudges it.
  now += 90_000
  expect(look()).toBeNull()
  now += 2 * HOUR
  pass(1000)
  expect(look()).toEqual({ byMs: 2 * HOUR, at: now })
  pass(30_000)
  expect(look()).toBeNull()
  now -= 26 * HOUR
  const back = look()
  expect(back).toEqual({ byMs: -26 * HOUR, at: now })
  expect(clockSetNote(back!)).toMatch(/set back by 1 d 2 h \(/)
  expect(clockSetNote({ byMs: 24 * HOUR - 3, at: now })).toMatch(/set ahead by 1 d \(/)
})
