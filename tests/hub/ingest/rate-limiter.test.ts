import { expect, test } from 'vitest'
import { createRateLimiter } from '#hub/ingest/rate-limiter.ts'
import { HOUR, MINUTE, SECOND } from '#hub/model/clock.ts'

function limited(scale?: number) {
  const notices: string[] = []
  let now = Date.UTC(2026, 4, 1)
  const limiter = createRateLimiter({
    clock: () => now,
    onNotice: (probe) => notices.push(probe),
    ...(scale === undefined ? {} : { scale }),
  })
  return {
    limiter,
    notices,
    now: () => now,
    pass: (ms: number) => {
      now += ms
    },
  }
}
/** Topic and payload of LM-03's longest message. */
const LONGEST = 249

test('sixty at once pass, then one a second', () => {
  const { limiter, notices, pass, now } = limited()
  for (let i = 0; i < 60; i++) expect(limiter.admit('bed3a', 'r', 100)).toBe(true)
  for (let i = 0; i < 1000; i++) expect(limiter.admit('bed3a', 'r', 100)).toBe(false)
  expect(limiter.notice('bed3a')).toEqual({ since: now(), lastAt: now(), refused: 1000 })
  pass(3 * SECOND)
  const passed = Array.from({ length: 10 }, () => limiter.admit('bed3a', 'r', 100))
  expect(passed.filter((ok) => ok)).toHaveLength(3)
  expect(notices).toEqual(['bed3a'])
  // One probe's excess is no other's.
  expect(limiter.admit('bed3b', 'r', 100)).toBe(true)
  expect(limiter.notice('bed3b')).toBeNull()
})

test('a backlog of a season goes out at the pace of LM-26, by a clock five per cent fast', () => {
  const { limiter, notices, pass } = limited()
  // 24 hours of one batch of 249 bytes a second, readings each minute, a new boot each minute beside them.
  for (let second = 0; second < 24 * 3600; second++) {
    pass(SECOND / 1.05)
    expect(limiter.admit('bed3a', 'b', LONGEST)).toBe(true)
    if (second % 60 !== 0) continue
    expect(limiter.admit('bed3a', 'r', LONGEST)).toBe(true)
    for (const leaf of ['state', 'birth', ...Array<string>(16).fill('ch'), 'state'])
      expect(limiter.admit('bed3a', leaf, 130)).toBe(true)
  }
  expect(notices).toEqual([])
})

test('large messages are counted by their bytes', () => {
  const { limiter, pass } = limited()
  let bytes = 0
  for (let second = 0; second < 3600; second++) {
    if (limiter.admit('bed3a', 'r', 4096)) bytes += 4096
    pass(SECOND)
  }
  // What it may hold at first, and what flows in within the hour.
  expect(bytes).toBeGreaterThan(480_000)
  expect(bytes).toBeLessThanOrEqual(512_000)
})

test('a notice ends after a quiet hour; then it is told anew', () => {
  const { limiter, notices, pass } = limited()
  const flood = (): void => {
    for (let i = 0; i < 100; i++) limiter.admit('bed3a', 'r', 100)
  }
  flood()
  pass(HOUR)
  expect(limiter.notice('bed3a')).not.toBeNull()
  pass(1)
  expect(limiter.notice('bed3a')).toBeNull()
  flood()
  expect(notices).toEqual(['bed3a', 'bed3a'])
  expect(limiter.notice('bed3a')).toMatchObject({ refused: 40 })
})

test('what piled up while the store was away counts for nothing', () => {
  const { limiter, notices, pass } = limited()
  limiter.storeIs('down')
  pass(2 * HOUR)
  limiter.storeIs('up')
  for (let i = 0; i < 5000; i++) expect(limiter.admit('bed3a', 'r', 100)).toBe(true)
  pass(5 * MINUTE)
  for (let i = 0; i < 61; i++) limiter.admit('bed3a', 'r', 100)
  expect(notices).toEqual(['bed3a'])
})

test('a clock that is set back takes nothing away; a scale widens, 0 lifts the limit', () => {
  const back = limited()
  for (let i = 0; i < 60; i++) back.limiter.admit('bed3a', 'r', 10)
  back.pass(-HOUR)
  back.limiter.admit('bed3a', 'r', 10)
  back.pass(2 * SECOND)
  expect(back.limiter.admit('bed3a', 'r', 10)).toBe(true)
  const wide = limited(2)
  const passed = Array.from({ length: 200 }, () => wide.limiter.admit('bed3a', 'r', 10))
  expect(passed.filter((ok) => ok)).toHaveLength(120)
  const none = limited(0)
  for (let i = 0; i < 10_000; i++) expect(none.limiter.admit('bed3a', 'r', 4096)).toBe(true)
})

test('names free for the asking do not fill the memory, and a probe that owes is kept in mind', () => {
  const { limiter, notices } = limited()
  for (let i = 0; i < 100; i++) limiter.admit('bed3a', 'r', 100)
  for (let i = 0; i < 9_999; i++) limiter.admit(`client ${i}`, undefined, 10)
  expect(limiter.notice('bed3a')).not.toBeNull()
  expect(notices).toEqual(['bed3a'])
})

test('whoever is new at an address shares one account there, by messages and by bytes', () => {
  const { limiter, notices, pass } = limited()
  for (let i = 0; i < 300; i++) expect(limiter.admitUnknown('192.0.2.1', 100)).toBe(true)
  expect(limiter.admitUnknown('192.0.2.1', 100)).toBe(false)
  // Neither another address nor a probe that is called the same feels it.
  expect(limiter.admitUnknown('192.0.2.2', 100)).toBe(true)
  expect(limiter.admit('192.0.2.1', 'r', 100)).toBe(true)
  expect(notices).toEqual(['whoever is new at 192.0.2.1'])
  pass(3 * SECOND)
  const passed = Array.from({ length: 10 }, () => limiter.admitUnknown('192.0.2.1', 100))
  expect(passed.filter((ok) => ok)).toHaveLength(3)
  let bytes = 0
  for (let second = 0; second < 3600; second++) {
    if (limiter.admitUnknown('192.0.2.3', 4096)) bytes += 4096
    pass(SECOND)
  }
  expect(bytes).toBeLessThanOrEqual(512_000)
  limiter.storeIs('down')
  for (let i = 0; i < 1000; i++) expect(limiter.admitUnknown('192.0.2.4', 4096)).toBe(true)
})

test('whoever is new at a broker shares one account there, ten times as large', () => {
  const { limiter, notices, pass } = limited()
  const at = (bytes: number): boolean =>
    limiter.admitUnknown('mqtt://broker.local:1883', bytes, 'broker')
  for (let i = 0; i < 3000; i++) expect(at(100)).toBe(true)
  expect(at(100)).toBe(false)
  expect(notices).toEqual(['whoever is new at mqtt://broker.local:1883'])
  pass(3 * SECOND)
  expect(Array.from({ length: 100 }, () => at(100)).filter((ok) => ok)).toHaveLength(30)
})
