import { cpSync } from 'node:fs'
import { createServer } from 'node:http'
import { once } from 'node:events'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { MINUTE } from '#hub/model/clock.ts'
import { PLAIN_BOOT } from '#hub/model/reading.ts'
import type { Reading } from '#hub/model/reading.ts'
import { openInfluxClient, type InfluxTarget } from '#hub/store/influx/influx-client.ts'
import { openInfluxReadingStore } from '#hub/store/influx/open-influx-reading-store.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { delivered, openInflux, targetOn } from '#tests/support/influx-store.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { startInfluxd, type Service } from '#tests/support/services/services.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

/*
 * A data folder put back as a whole from a picture of the disk: unlike a backup it does not know that it is a copy. When
 * InfluxDB is away at its start, it goes on before anybody can tell it what it lacks.
 */

let influxd: Service
beforeAll(async () => {
  influxd = await startInfluxd()
})
afterAll(() => influxd[Symbol.asyncDispose]())

const at = (seq: number): number => sampleReading({ seq }).at
const range = (from: number, to: number): number[] =>
  Array.from({ length: to - from }, (_, i) => from + i)
/** Readings as they arrive when they are taken. */
const live = (from: number, to: number): Reading[] =>
  range(from, to).map((seq) => sampleReading({ seq, values: { e1: seq, m1: 1 } }))
/** The same, sent again half an hour later. */
const again = (from: number, to: number, some: Partial<Reading> = {}): Reading[] =>
  range(from, to).map((seq) => ({
    ...sampleReading({ seq, values: { e1: seq, m1: 1 }, placedBy: 'anchors' }),
    at: at(seq) + 40,
    arrivedAt: at(seq) + 30 * MINUTE,
    ...some,
  }))
const plain = (seq: number, moment: number, value: number): Reading =>
  sampleReading({ boot: PLAIN_BOOT, seq, at: moment, uptimeS: 0, values: { e1: value } })

async function keep(store: ReadingStore, readings: readonly Reading[]): Promise<void> {
  await store.append(batchOf({ readings }))
  await store.settle()
}

/** Every point there: its measurement, number, values and moment. */
async function pointsThere(target: InfluxTarget) {
  const client = openInfluxClient(target)
  try {
    const series = await client.querySeries(
      'SELECT "_boot", "_seq", "e1", "m1" FROM "reading", "bounded"',
    )
    return series.flatMap(({ name, values }) =>
      values.map(([t, boot, seq, e1, m1]) => ({ name, t, boot, seq, e1, m1 })),
    )
  } finally {
    await client.close()
  }
}

async function shown(store: ReadingStore): Promise<number[]> {
  const [raw] = await store.buckets([
    { probe: 'row1', channel: 'e1', from: -8e15, to: 8e15, step: 'raw' },
  ])
  return [...raw!.mean]
}

/** A folder as it was before `lost` was kept and sent, which then gets `offline` while InfluxDB is away. */
async function scene(
  name: string,
  options: {
    readonly first: readonly Reading[]
    readonly lost: readonly Reading[]
    readonly offline: readonly (readonly Reading[])[]
  },
): Promise<{ target: InfluxTarget; folder: ReturnType<typeof tempDir> }> {
  const target = targetOn(influxd, name)
  using before = tempDir()
  const folder = tempDir()
  let store = await openInflux(before.path, target)
  await keep(store, options.first)
  await delivered(store)
  await store.close()
  cpSync(before.path, folder.path, { recursive: true })
  store = await openInflux(before.path, target)
  await keep(store, options.lost)
  await delivered(store)
  await store.close()
  await influxd.stop()
  try {
    store = await openInflux(folder.path, target)
    for (const readings of options.offline) await keep(store, readings)
    await store.close()
  } finally {
    await influxd.start()
  }
  return { target, folder }
}

test.for([
  { rows: 'as many rows', name: 'as-many', batches: [again(12, 18)] },
  {
    rows: 'more rows',
    name: 'more',
    batches: range(12, 18).map((seq) => again(seq, seq + 1)),
  },
])('what comes again to a folder put back is there once ($rows)', async ({ name, batches }) => {
  const { target, folder } = await scene(name, {
    first: live(0, 10),
    lost: live(10, 20),
    offline: batches,
  })
  using _ = folder
  const store = await openInflux(folder.path, target)
  try {
    await delivered(store)
    const there = await pointsThere(target)
    expect(there.map(({ seq }) => seq)).toEqual(range(0, 20))
    const moved = new Set(range(12, 18))
    expect(there.map(({ t }) => t)).toEqual(
      range(0, 20).map((seq) => at(seq) + (moved.has(seq) ? 40 : 0)),
    )
    expect(there.every(({ e1, m1, seq }) => e1 === seq && m1 === 1)).toBe(true)
    expect(await shown(store)).toEqual(range(0, 20))
    expect(await store.counts()).toMatchObject({ readings: 20, duplicates: 0, quarantined: 0 })
    await keep(store, live(20, 21))
    await delivered(store)
    expect(await pointsThere(target)).toHaveLength(21)
  } finally {
    await store.close()
  }
})

test('what came with less the second time keeps what it said the first; what is bounded now stands there alone', async () => {
  const { target, folder } = await scene('less', {
    first: live(0, 2),
    lost: live(2, 6),
    offline: [
      again(2, 4, { values: [{ channel: 'e1', value: 2 }] }).map((one) => ({
        ...one,
        values: [{ channel: 'e1', value: one.seq }],
      })),
      again(4, 5, { placedBy: 'bounded', at: at(4) }),
    ],
  })
  using _ = folder
  const store = await openInflux(folder.path, target)
  try {
    await delivered(store)
    const there = await pointsThere(target)
    expect(there.filter(({ name }) => name === 'reading').map(({ seq }) => seq)).toEqual([
      0, 1, 2, 3, 5,
    ])
    expect(there.filter(({ name }) => name === 'bounded').map(({ seq }) => seq)).toEqual([4])
    expect(there.every(({ e1, m1, seq }) => e1 === seq && m1 === 1)).toBe(true)
  } finally {
    await store.close()
  }
})

test('a moment that another reading has taken meanwhile: both are there, each with its own values', async () => {
  const { target, folder } = await scene('taken', {
    first: live(0, 2),
    lost: live(2, 4),
    // Of another boot, at the very moment of a reading that this folder does not know.
    offline: [[sampleReading({ boot: 2, seq: 0, at: at(3), values: { e1: 30 } })]],
  })
  using _ = folder
  const store = await openInflux(folder.path, target)
  try {
    await delivered(store)
    const there = await pointsThere(target)
    expect(there.map(({ boot, seq, e1, m1 }) => [boot, seq, e1, m1])).toEqual([
      [1, 0, 0, 1],
      [1, 1, 1, 1],
      [1, 2, 2, 1],
      [2, 0, 30, null],
      [1, 3, 3, 1],
    ])
    expect(await shown(store)).toEqual([0, 1, 2, 30, 3])
  } finally {
    await store.close()
  }
})

test('plain numbers, to which the hub gave one number twice, are all kept', async () => {
  const moment = at(0)
  const { target, folder } = await scene('plain', {
    first: [plain(0, moment, 1)],
    lost: [plain(1, moment + 1000, 2), plain(2, moment + 2000, 3)],
    offline: [[plain(1, moment + 5000, 4)], [plain(2, moment + 6000, 3)]],
  })
  using _ = folder
  let store = await openInflux(folder.path, target)
  await delivered(store)
  expect((await pointsThere(target)).map(({ e1 }) => e1)).toEqual([1, 2, 3, 4, 3])
  expect(await shown(store)).toEqual([1, 2, 3, 4, 3])
  expect(await store.counts()).toMatchObject({ readings: 5, quarantined: 0 })
  await store.close()
  // The folder knows all of them, and one that is made of what is there does, too.
  using fresh = tempDir()
  store = await openInflux(fresh.path, target)
  await store.settle()
  expect(await store.counts()).toMatchObject({ readings: 5, quarantined: 0 })
  await store.close()
  expect((await pointsThere(target)).map(({ e1 }) => e1)).toEqual([1, 2, 3, 4, 3])
})

test('other content under the name of a reading is left where it is', async () => {
  const { target, folder } = await scene('other', {
    first: live(0, 2),
    lost: live(2, 4),
    offline: [again(2, 3, { values: [{ channel: 'e1', value: -5 }] })],
  })
  using _ = folder
  const store = await openInflux(folder.path, target)
  try {
    await delivered(store)
    expect((await pointsThere(target)).map(({ e1 }) => e1)).toEqual([0, 1, 2, -5, 3])
  } finally {
    await store.close()
  }
})

test('an InfluxDB that deletes nothing: told, and everything goes on', async () => {
  const { target, folder } = await scene('stubborn', {
    first: live(0, 2),
    lost: live(2, 4),
    offline: [again(2, 4)],
  })
  using _ = folder
  // It takes lines and answers questions, and refuses to delete.
  const proxy = createServer((request, response) => {
    void (async () => {
      const chunks = await request.toArray()
      const body = Buffer.concat(chunks as Buffer[])
      if (body.toString().includes('q=DELETE')) {
        response.writeHead(400).end('{"error":"DELETE is not supported"}')
        return
      }
      const { headers } = request
      const answer = await fetch(`${target.url}${request.url}`, {
        method: 'POST',
        headers: Object.fromEntries(
          ['content-type', 'content-encoding'].flatMap((name) => {
            const value = headers[name]
            return typeof value === 'string' ? [[name, value]] : []
          }),
        ),
        body,
      })
      response.writeHead(answer.status).end(await answer.text())
    })()
  })
  proxy.listen(0, '127.0.0.1')
  await once(proxy, 'listening')
  const { port } = proxy.address() as { port: number }
  const told: string[] = []
  const fail = (error: Error): never => {
    throw error
  }
  const store = await openInfluxReadingStore(
    join(folder.path, 'readings.db'),
    { ...target, url: `http://127.0.0.1:${port}` },
    {
      onDeath: fail,
      onTrouble: ({ message }) => told.push(message),
      onForwarding: () => {},
      clock: Date.now,
    },
  )
  try {
    await delivered(store)
    expect(told).toHaveLength(1)
    expect(told[0]).toMatch(/holds 2 readings at other moments .*DELETE is not supported/)
    expect(await store.counts()).toMatchObject({ readings: 4 })
    // Each once all the same, where it was.
    const there = await pointsThere(target)
    expect(there.map(({ seq, t }) => [seq, t])).toEqual(range(0, 4).map((seq) => [seq, at(seq)]))
    expect(await shown(store)).toEqual(range(0, 4))
  } finally {
    await store.close()
    proxy.close()
  }
})
