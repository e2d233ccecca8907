import { expect, test } from 'vitest'
import { createAskRule } from '#hub/ingest/ask-again.ts'
import { openBoot } from '#hub/ingest/boot-book.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { createRateLimiter } from '#hub/ingest/rate-limiter.ts'
import { openStores } from '#hub/store/open.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

/* The clock was years ahead for a while: what waits for a moment of then must not wait for it. */

const NOW = 1_790_000_000_000
const YEAR = 365 * 86_400_000
const MINUTE = 60_000

test('a hole in the count of a probe is asked for again', async () => {
  const rule = createAskRule()
  const boot = openBoot('row1', 1, {
    mark: { probe: 'row1', boot: 1, top: 3, lost: 0, missing: 2, highest: 7, lastAt: NOW },
    ahead: [6, 7],
    anchors: [],
    newest: null,
  })
  const wait = async (): Promise<number> => 2 * MINUTE
  const ahead = NOW + 3 * YEAR
  expect(await rule.look(boot, ahead, wait)).toBeNull()
  expect(await rule.look(boot, ahead + 2 * MINUTE, wait)).toEqual({ from: 4, count: 2 })
  expect(await rule.look(boot, NOW, wait)).toEqual({ from: 4, count: 2 })
  // And then in its usual pauses.
  expect(await rule.look(boot, NOW + MINUTE, wait)).toBeNull()
})

test('the grace after a store that was away ends', () => {
  let now = NOW + 3 * YEAR
  const limiter = createRateLimiter({ clock: () => now, onNotice: () => undefined })
  limiter.storeIs('down')
  limiter.storeIs('up')
  now = NOW
  const taken = Array.from({ length: 200 }, () => limiter.admit('row1', 'r', 60)).filter(Boolean)
  expect(taken.length).toBeLessThan(100)
})

test('when a probe was last heard is told by the clock that holds', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  let now = NOW + 3 * YEAR
  const quiet = { warn: () => undefined, info: () => undefined }
  const { readings, garden } = stores
  const ingest = createIngest({ readings, garden, clock: () => now, log: quiet })
  const send = async (n: number): Promise<void> => {
    const payload = Buffer.from(`{"b":1,"n":${n},"u":${n},"v":{"m1":5}}`)
    const arrival = { topic: 'lm1/row1/up/r', payload, retain: false, arrivedAt: now }
    await ingest.ingest([{ ...arrival, mayBeDelayed: false }])
  }
  try {
    await send(0)
    const seenAt = async (): Promise<number | undefined> => (await garden.probe('row1'))?.lastSeenAt
    expect(await seenAt()).toBe(now)
    now = NOW
    await send(1)
    await until('it was heard now', async () => (await seenAt()) === NOW)
  } finally {
    ingest.stop()
    await stores.close()
  }
})
