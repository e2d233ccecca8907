import fc from 'fast-check'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { openSpoolStore } from '#hub/store/sqlite/open-spool-store.ts'
import { messageOf, packMessages, unpackMessages } from '#hub/store/sqlite/packed-messages.ts'
import type { SpoolStore, TakenMessage } from '#hub/store/spool-store.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

let folder: ReturnType<typeof tempDir>
let spool: SpoolStore

const open = (): Promise<SpoolStore> =>
  openSpoolStore(join(folder.path, 'spool.db'), {
    onDeath(error) {
      throw error
    },
  })
const message = (n: number): TakenMessage => ({
  topic: 'lm1/fern1/up/r',
  payload: Buffer.from(`{"b":1,"n":${n}}`),
  arrivedAt: 1_700_000_000_000 + n,
  mayBeDelayed: n % 2 === 1,
  retain: false,
})
const some = (from: number, count: number): TakenMessage[] =>
  Array.from({ length: count }, (_, i) => message(from + i))
const textOf = (one: TakenMessage): string => Buffer.from(one.payload).toString()

beforeEach(async () => {
  folder = tempDir()
  spool = await open()
})
afterEach(async () => {
  await spool.close()
  folder[Symbol.dispose]()
})

test('gives back what it got, as it came, numbered from 1', async () => {
  await spool.append(some(0, 3))
  await spool.append([
    { ...message(3), topic: 'lm1/fern1/up/b', retain: true, refused: 'payload: too long' },
  ])
  const found = await spool.after(0, 10)
  expect(found.map(({ row }) => row)).toEqual([1, 2, 3, 4])
  expect(found.map(textOf)).toEqual([0, 1, 2, 3].map((n) => textOf(message(n))))
  expect(found[1]).toMatchObject({
    arrivedAt: 1_700_000_000_001,
    mayBeDelayed: true,
    retain: false,
  })
  expect(found[1]).not.toHaveProperty('refused')
  expect(found[3]).toMatchObject({
    topic: 'lm1/fern1/up/b',
    retain: true,
    refused: 'payload: too long',
  })
  expect(await spool.after(2, 1)).toMatchObject([{ row: 3 }])
  expect(await spool.after(4, 10)).toEqual([])
})

test('any bytes and any text make the trip between threads', () => {
  fc.assert(
    fc.property(
      fc.array(
        fc.record({
          topic: fc.string({
            unit: fc.constantFrom('a', '/', 'é', '\u0000', '\u2028', '🌱', '"'),
            maxLength: 30,
          }),
          payload: fc.uint8Array({ maxLength: 60 }),
          arrivedAt: fc.nat(),
          mayBeDelayed: fc.boolean(),
          retain: fc.boolean(),
        }),
        { maxLength: 8 },
      ),
      (messages) => {
        const back = Array.from(unpackMessages(packMessages(messages)), messageOf)
        expect(back).toEqual(messages)
      },
    ),
    { numRuns: 30 },
  )
})

test('what is confirmed stays until it is taken, what is taken stays until it is confirmed', async () => {
  await spool.append(some(0, 10))
  expect(await spool.state()).toMatchObject({
    last: 10,
    delivered: 0,
    oldestWaitingAt: 1_700_000_000_000,
  })
  await spool.delivered(6)
  expect(await spool.state()).toMatchObject({ delivered: 6, oldestWaitingAt: 1_700_000_000_006 })
  expect(await spool.after(0, 1)).toMatchObject([{ row: 1 }])
  await spool.taken(4)
  expect(await spool.after(0, 1)).toMatchObject([{ row: 5 }])
  await spool.taken(8)
  expect(await spool.after(0, 1)).toMatchObject([{ row: 7 }])
  // Both ways back: what is still there can be sent again, what is gone is not promised.
  await spool.delivered(0)
  expect(await spool.state()).toMatchObject({ delivered: 8, taken: 8 })
})

test('numbers go on after everything was trimmed and the process began anew', async () => {
  await spool.append(some(0, 5000))
  await spool.delivered(5000)
  await spool.taken(5000)
  const { id } = await spool.state()
  await spool.close()
  spool = await open()
  expect(await spool.after(0, 10)).toEqual([])
  expect(await spool.state()).toMatchObject({
    id,
    last: 5000,
    delivered: 5000,
    oldestWaitingAt: null,
  })
  await spool.append([message(5000)])
  expect(await spool.after(5000, 10)).toMatchObject([{ row: 5001 }])
})

test('room on the disk is given back after a long time without the log', async () => {
  const big = { ...message(0), payload: new Uint8Array(4000) }
  for (let i = 0; i < 6; i++) await spool.append(Array.from({ length: 1000 }, () => big))
  const full = (await spool.state()).bytes
  expect(full).toBeGreaterThan(24_000_000)
  await spool.delivered(6000)
  for (let row = 500; row <= 6000; row += 500) await spool.taken(row)
  expect((await spool.state()).bytes).toBeLessThan(full / 5)
})

test('a renewed spool has another name and counts what is not taken from 1', async () => {
  await spool.append(some(0, 10))
  await spool.delivered(8)
  await spool.taken(3)
  const before = await spool.state()
  await spool.renew()
  const after = await spool.state()
  expect(after.id).not.toBe(before.id)
  expect(after).toMatchObject({ last: 7, delivered: 0, taken: 0 })
  const found = await spool.after(0, 100)
  expect(found.map(({ row }) => row)).toEqual([1, 2, 3, 4, 5, 6, 7])
  expect(textOf(found[0]!)).toBe(textOf(message(3)))
  await spool.append([message(10)])
  await spool.delivered(8)
  await spool.taken(8)
  expect(await spool.after(0, 10)).toEqual([])
  expect(await spool.state()).toMatchObject({ last: 8, delivered: 8, taken: 8 })
})
