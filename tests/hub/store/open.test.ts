import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { chmodSync, readdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { DatabaseSync } from 'node:sqlite'
import { fileURLToPath } from 'node:url'
import { expect, onTestFinished, test } from 'vitest'
import type { HubError } from '#hub/errors.ts'
import { openStores } from '#hub/store/open.ts'
import { batchOf, sampleReading } from '#tests/support/sample-readings.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

const CHILD = fileURLToPath(new URL('./append-and-wait.ts', import.meta.url))
const ALWAYS = { from: -8.64e15, to: 8.64e15 }

/** Starts the appending process; `limit` in KiB caps the size of every file it writes. */
function append(folder: string, first: number, limit?: number) {
  const command = `${limit === undefined ? '' : `trap '' XFSZ; ulimit -S -f ${limit}; `}exec "$@"`
  const child = spawn(
    'bash',
    ['-c', command, 'bash', process.execPath, CHILD, folder, `${first}`],
    {
      stdio: ['ignore', 'pipe', 'inherit'],
    },
  )
  onTestFinished(() => void child.kill('SIGKILL'))
  return { child, lines: createInterface({ input: child.stdout }) }
}

/** Lets a process append, kills it after some acknowledgements; answers the last number it was told. */
async function appendAndKill(folder: string, first: number, after: number): Promise<number> {
  const { child, lines } = append(folder, first)
  const ended = once(child, 'exit')
  let kept = -1
  let acknowledged = 0
  for await (const line of lines) {
    const [word, number] = line.split(' ')
    if (word === 'kept') {
      kept = Number(number)
      acknowledged++
    }
    if (acknowledged === after) child.kill('SIGKILL')
  }
  await ended
  expect(child.signalCode).toBe('SIGKILL')
  return kept
}

test(
  'a hub that is killed keeps every reading it acknowledged, each once',
  { timeout: 120_000 },
  async () => {
    using folder = tempDir()
    let kept = -1
    // 1: between an acknowledgement and settling; the others while settling runs beside the appends.
    for (const after of [1, 3, 40, 150, 400]) {
      kept = await appendAndKill(folder.path, kept + 1, after)
      const stores = await openStores(folder.path)
      const { readings } = stores
      try {
        const counts = await readings.counts()
        // The batch under way may be kept without having been acknowledged, never in part.
        expect([kept + 1, kept + 51]).toContain(counts.readings)
        expect(counts).toMatchObject({ duplicates: 0, quarantined: 0 })
        const { ahead } = await readings.recall('row1', 1)
        expect(ahead).toEqual(Array.from({ length: counts.readings }, (_, seq) => seq))
        kept = counts.readings - 1

        const steps = ['raw', 'hour', 'day'] as const
        const [raw, ...rolled] = await readings.buckets(
          steps.map((step) => ({ probe: 'row1', channel: 'e1', ...ALWAYS, step })),
        )
        expect([...(raw?.mean ?? [])]).toEqual(ahead.map((seq) => seq / 10))
        for (const { count } of rolled) expect(count.reduce((a, b) => a + b, 0)).toBe(ahead.length)
      } finally {
        await stores.close()
      }
    }
  },
)

test(
  'a disk that takes no more refuses the batch, and keeps what was acknowledged',
  { timeout: 60_000 },
  async () => {
    using folder = tempDir()
    const { child, lines } = append(folder.path, 0, 400)
    let kept = -1
    let refused = ''
    for await (const line of lines) {
      if (line.startsWith('kept ')) kept = Number(line.slice(5))
      if (line.startsWith('refused ')) {
        refused = line
        child.kill('SIGKILL')
      }
    }
    expect(refused).toMatch(/^refused HUB_STORE_UNAVAILABLE .*readings\.db: .* disk /)
    expect(kept).toBeGreaterThan(0)
    const stores = await openStores(folder.path)
    const { readings } = stores
    try {
      expect((await readings.counts()).readings).toBe(kept + 1)
    } finally {
      await stores.close()
    }
  },
)

test('a second hub on the same folder is refused by name, whatever process it is', async () => {
  using folder = tempDir()
  const locked = {
    code: 'HUB_STORE_LOCKED',
    retry: false,
    message: expect.stringContaining(folder.path),
  }
  const { child, lines } = append(folder.path, 0)
  await once(lines, 'line')
  await expect(openStores(folder.path)).rejects.toMatchObject(locked)
  const ended = once(child, 'exit')
  child.kill('SIGKILL')
  await ended

  const own = await openStores(folder.path)
  await expect(openStores(folder.path)).rejects.toMatchObject(locked)
  await Promise.all([own.close(), own.close()])
  await own.close()
  await (await openStores(folder.path)).close()
})

test('a folder at rest holds each database in one file', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  await stores.readings.append(batchOf({ readings: [sampleReading()] }))
  await stores.close()
  expect(readdirSync(folder.path).toSorted()).toEqual([
    'garden.db',
    'hub.lock',
    'readings.db',
    'watch.db',
  ])
})

test('asked to settle and closed at once, the store answers, and settles when it opens again', async () => {
  using folder = tempDir()
  const stores = await openStores(folder.path)
  // More than one run of settling takes.
  const total = 60_000
  for (let first = 0; first < total; first += total / 3) {
    const readings = Array.from({ length: total / 3 }, (_, i) => sampleReading({ seq: first + i }))
    await stores.readings.append(batchOf({ readings }))
  }
  const asked = stores.readings.settle().catch((error: unknown) => error)
  await stores.close()
  // Nobody is left waiting: it was settled before the end, or says that it was not.
  const answer = await asked
  if (answer !== undefined) expect(answer).toMatchObject({ code: 'HUB_STORE_UNAVAILABLE' })
  const again = await openStores(folder.path)
  expect((await again.readings.counts()).readings).toBe(total)
  await again.close()
})

test('a database that breaks under the hub ends the store loudly, with no call left hanging', async () => {
  using folder = tempDir()
  const deaths: HubError[] = []
  const stores = await openStores(folder.path, { onDeath: (error) => deaths.push(error) })
  const { readings } = stores
  const stranger = new DatabaseSync(join(folder.path, 'readings.db'))
  stranger.exec('DROP TABLE latest')
  stranger.close()
  // The log still takes it: what is acknowledged is on the disk.
  await readings.append(batchOf({ readings: [sampleReading()] }))
  await until('the death is told', () => deaths.length > 0)
  expect(deaths).toEqual([
    expect.objectContaining({
      code: 'HUB_STORE_UNAVAILABLE',
      message: expect.stringContaining('no such table'),
    }),
  ])
  for (const call of [
    readings.append(batchOf({})),
    readings.settle(),
    readings.recall('row1', 1),
  ]) {
    await expect(call).rejects.toBe(deaths[0])
  }
  await stores.close()
  expect(deaths).toHaveLength(1)
})

test('a folder that cannot be one is refused by name', async () => {
  using folder = tempDir()
  const file = join(folder.path, 'taken')
  writeFileSync(file, '')
  for (const path of [file, join(file, 'below')]) {
    await expect(openStores(path)).rejects.toMatchObject({
      code: 'HUB_STORE_UNAVAILABLE',
      message: expect.stringContaining(path),
    })
  }
})

test('a folder without the right to write is refused', async () => {
  using folder = tempDir()
  chmodSync(folder.path, 0o555)
  // Root may write anywhere but where the kernel itself says no.
  const path = process.getuid?.() === 0 ? '/sys/loamline-data' : folder.path
  await expect(openStores(path)).rejects.toMatchObject({
    code: 'HUB_STORE_UNAVAILABLE',
    message: expect.stringContaining(path),
  })
  chmodSync(folder.path, 0o755)
})

test.for(['readings.db', 'garden.db'])(
  'a %s that is no database is refused by name',
  async (name) => {
    using folder = tempDir()
    const text = 'This is a plain text where a database should be. '.repeat(40)
    writeFileSync(join(folder.path, name), text)
    await expect(openStores(folder.path)).rejects.toMatchObject({
      code: 'HUB_STORE_UNAVAILABLE',
      retry: false,
      message: expect.stringContaining(name),
    })
  },
)
