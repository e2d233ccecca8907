import { spawn, type ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { join } from 'node:path'
import { afterEach, expect, test, vi } from 'vitest'
import { openReadingStore } from '#hub/store/sqlite/open-reading-store.ts'
import { openInfluxClient } from '#hub/store/influx/influx-client.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { startInfluxd, type Service } from '#tests/support/services/services.ts'
import { delivered, heldThere, openInflux, targetOn } from '#tests/support/influx-store.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

const KILLS = 3
const BATCH = 25

let influxd: Service | undefined
const children = new Set<ChildProcess>()
afterEach(async () => {
  for (const child of children) child.kill('SIGKILL')
  children.clear()
  await influxd?.[Symbol.asyncDispose]()
})

/** A process that keeps readings from a number on; `last` is the newest it was told is kept. */
function appending(folder: string, from: number, batch = BATCH) {
  const target = targetOn(influxd!)
  const child = spawn(
    process.execPath,
    [
      'tests/support/appending-store.ts',
      join(folder, 'readings.db'),
      target.url,
      target.database,
      String(from),
      String(batch),
    ],
    { stdio: ['ignore', 'pipe', 'inherit'] },
  )
  children.add(child)
  let said = ''
  child.stdout.on('data', (chunk: Buffer) => (said += chunk.toString()))
  // A line may be cut off by the end of the process.
  const last = (): number => Number(said.slice(0, said.lastIndexOf('\n')).split('\n').at(-1) || -1)
  return {
    last(): number {
      if (child.exitCode !== null) throw new Error(`the process ended by itself:\n${said}`)
      return last()
    },
    async kill(): Promise<number> {
      expect(child.exitCode).toBeNull()
      child.kill('SIGKILL')
      await once(child, 'exit')
      children.delete(child)
      return last()
    },
  }
}

test(
  'whichever side is killed, three times each: no reading is lost, none is doubled',
  { timeout: 90_000 },
  async () => {
    using folder = tempDir()
    influxd = await startInfluxd()
    const target = targetOn(influxd)
    let kept = -1
    for (let kill = 0; kill < KILLS; kill++) {
      // What was sent and not acknowledged is sent again, as a probe does it.
      const hub = appending(folder.path, Math.max(0, kept + 1 - 2 * BATCH))
      const start = Math.max(kept, 0)
      await until('readings are kept', () => hub.last() >= start + 40 * BATCH, 20_000)
      await until(
        'some of them have arrived',
        async () => (await heldThere(target)).n > start,
        20_000,
      )
      await influxd.kill()
      const then = hub.last()
      await until('readings are kept without it', () => hub.last() >= then + 20 * BATCH, 20_000)
      await influxd.start()
      await until('some more arrived', async () => (await heldThere(target)).n > then, 20_000)
      kept = await hub.kill()
    }
    const store = await openInflux(folder.path, target)
    try {
      await store.settle()
      await delivered(store)
      const { readings } = await store.counts()
      // The last batch may have been kept without anybody hearing of it.
      expect(readings).toBeGreaterThanOrEqual(kept + 1)
      expect(readings).toBeLessThanOrEqual(kept + 1 + BATCH)
      const sum = ((readings - 1) * readings) / 2
      expect(await heldThere(target)).toEqual({ n: readings, sum })
      const [raw] = await store.buckets([
        { probe: 'row1', channel: 'e1', from: -8e15, to: 8e15, step: 'raw' },
      ])
      expect(raw!.mean).toEqual(Float64Array.from({ length: readings }, (_, seq) => seq))
      // What was told last may be older than the last sending.
      await vi.waitFor(async () => {
        expect(await store.forwarding()).toMatchObject({ state: 'up', waiting: 0, refused: 0 })
      }, 10_000)
    } finally {
      await store.close()
    }
  },
)

test(
  'killed while it sends all it has to an InfluxDB that is new, it goes on where it was',
  { timeout: 60_000 },
  async () => {
    using folder = tempDir()
    influxd = await startInfluxd()
    const target = targetOn(influxd)
    const all = 60_000
    const fail = (error: Error): never => {
      throw error
    }
    const alone = await openReadingStore(join(folder.path, 'readings.db'), {
      onDeath: fail,
      onTrouble: fail,
    })
    for (let from = 0; from < all; from += 10_000) {
      const readings = Array.from({ length: 10_000 }, (_, i) =>
        sampleReading({ seq: from + i, values: { e1: from + i } }),
      )
      await alone.append(batchOf({ readings }))
    }
    await alone.close()
    const hub = appending(folder.path, 0, 0)
    // More than one sending, so that the first is confirmed.
    await until(
      'some are there',
      async () => ((await heldThere(target).catch(() => null))?.n ?? 0) > 12_000,
      20_000,
    )
    await hub.kill()
    const then = await heldThere(target)
    expect(then.n).toBeLessThan(all)
    const client = openInfluxClient(target)
    const names = () => client.query('SHOW TAG VALUES FROM "forwarded" WITH KEY = "folder"')
    const name = await names()
    // What is there stands out from what is sent again.
    await client.write(`reading,probe=row1 e1=0.25 ${sampleReading({ seq: 0 }).at}`)
    const store = await openInflux(folder.path, target)
    try {
      await delivered(store)
      await store.settle()
      expect(await heldThere(target)).toEqual({ n: all, sum: ((all - 1) * all) / 2 + 0.25 })
      expect(await store.counts()).toMatchObject({ readings: all, duplicates: 0 })
      expect(await names()).toEqual(name)
    } finally {
      await store.close()
      await client.close()
    }
  },
)
