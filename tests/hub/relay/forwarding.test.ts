import { copyFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { startForwarding } from '#hub/relay/forwarding.ts'
import type { Forwarding } from '#hub/relay/forwarding.ts'
import type { LogName } from '#hub/store/intake-log.ts'
import { openSpoolStore } from '#hub/store/sqlite/open-spool-store.ts'
import type { SpoolStore, TakenMessage } from '#hub/store/spool-store.ts'
import { memoryIntakeLog } from '#tests/support/memory-intake-log.ts'
import type { MemoryIntakeLog } from '#tests/support/memory-intake-log.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

let folder: ReturnType<typeof tempDir>
let intake: MemoryIntakeLog
let spool: SpoolStore
let forwarding: Forwarding | undefined
let said: string[]

const log = {
  warn: (text: string) => said.push(`NOTE ${text}`),
  info: (text: string) => said.push(text),
}
const file = (): string => join(folder.path, 'spool.db')
const open = (): Promise<SpoolStore> =>
  openSpoolStore(file(), {
    onDeath(error) {
      throw error
    },
  })
const start = (): void => {
  forwarding = startForwarding({
    writer: 'in-1',
    spool,
    intake: intake.port,
    clock: Date.now,
    log,
    backOffMs: { first: 4, last: 64 },
    lookEveryMs: 5,
  })
}
const some = (count: number): TakenMessage[] =>
  Array.from({ length: count }, (_, n) => ({
    topic: 'lm1/fern1/up/r',
    payload: Buffer.from(`{"n":${n}}`),
    arrivedAt: 1_700_000_000_000 + n,
    mayBeDelayed: false,
    retain: false,
  }))
const name = async (): Promise<LogName> => ({ writer: 'in-1', spool: (await spool.state()).id })
const upTo = (n: number): number[] => Array.from({ length: n }, (_, i) => i + 1)

async function put(count: number): Promise<void> {
  await spool.append(some(count))
  forwarding?.touch()
}
const delivered = (row: number): Promise<unknown> =>
  until(`delivered ${row}`, async () => (await spool.state()).delivered >= row)
/** The serving hub says how far it is, and how often it found nothing behind that. */
const tellTaken = async (row: number, looks: number): Promise<void> =>
  intake.port.tell([{ ...(await name()), row, looks }], { hub: 'h', beat: 1 })

beforeEach(async () => {
  folder = tempDir()
  intake = memoryIntakeLog()
  said = []
  spool = await open()
})
afterEach(async () => {
  await forwarding?.stop()
  forwarding = undefined
  await spool.close()
  folder[Symbol.dispose]()
})

test('all goes on in order, also what was there before the start', async () => {
  await put(2500)
  start()
  await delivered(2500)
  await put(3)
  await delivered(2503)
  await until(
    'it says that it is there',
    async () => (await intake.port.beats())[0]?.writer === 'in-1',
  )
  expect(intake.rows(await name())).toEqual(upTo(2503))
  expect(await forwarding!.state()).toMatchObject({ waiting: 0, problem: null, forwarded: 2503 })
})

test('while the log is away messages wait, told with size and next try, and then go on', async () => {
  intake.away = true
  start()
  await put(10)
  await until('six attempts', () => intake.refusals() >= 6)
  const state = await forwarding!.state()
  expect(state).toMatchObject({ waiting: 10, delivered: 0, problem: 'the database is away.' })
  expect(state.attempts).toBeGreaterThanOrEqual(6)
  expect(state.nextTryAt).toBeGreaterThan(state.since)
  expect(said[0]).toMatch(
    /^NOTE the database is away\. \d+ messages wait in the spool \(\d+ KiB on the disk\); next try in /,
  )
  // Waits double: one line each, and then one in ten attempts.
  expect(said.length).toBeLessThan(8)
  await put(5)
  intake.away = false
  await delivered(15)
  expect(intake.rows(await name())).toEqual(upTo(15))
  expect(said.at(-1)).toMatch(/^the log takes messages again after \d+ attempts$/)
  expect(await forwarding!.state()).toMatchObject({ problem: null, attempts: 0, nextTryAt: null })
})

test('what the serving hub has taken leaves the spool', async () => {
  start()
  await put(20)
  await delivered(20)
  expect(await spool.after(0, 1)).toMatchObject([{ row: 1 }])
  await tellTaken(12, 0)
  await until('trimmed', async () => (await spool.after(0, 1))[0]?.row === 13)
  expect(await forwarding!.state()).toMatchObject({ served: true, taken: 12 })
})

test('what the log lost although it had confirmed it goes out again', async () => {
  start()
  await put(20)
  await delivered(20)
  intake.lose(await name(), 5, 20)
  for (let looks = 0; looks < 3; looks++) {
    await tellTaken(4, looks)
    await until('it is seen', async () => (await forwarding!.state()).served)
    await new Promise((resolve) => setTimeout(resolve, 20))
    expect(intake.rows(await name())).toEqual(upTo(4))
  }
  await tellTaken(4, 3)
  await until('sent again', async () => intake.rows(await name()).length === 20)
  expect(said).toContain(
    'NOTE the log has lost messages 5 to 20 of this process; they are sent again',
  )
})

test('a serving hub that is only slow is left in peace', async () => {
  start()
  await put(20)
  await delivered(20)
  for (let looks = 0; looks < 10; looks++) {
    await tellTaken(looks, looks)
    await new Promise((resolve) => setTimeout(resolve, 12))
  }
  expect(said).toEqual([])
})

test('a folder put back from an older copy never gives a number twice', async () => {
  start()
  await put(10)
  await delivered(10)
  await forwarding!.stop()
  await spool.close()
  copyFileSync(file(), `${file()}.old`)
  spool = await open()
  const old = await name()
  start()
  await put(10)
  await delivered(20)
  await forwarding!.stop()
  await spool.close()

  copyFileSync(`${file()}.old`, file())
  spool = await open()
  expect(await name()).toEqual(old)
  intake.away = true
  start()
  // More than the log is ahead: numbers alone would not tell any more.
  await put(15)
  intake.away = false
  await until('a new name', async () => (await spool.state()).id !== old.spool)
  // Nothing was taken yet, so all it has goes out under the new name, and what the old log has stays.
  await delivered(25)
  expect(intake.rows(old)).toEqual(upTo(20))
  expect(intake.rows(await name())).toEqual(upTo(25))
  expect(said.join()).toContain('put back from an older copy')
})

test('a folder that was lost begins a log of its own', async () => {
  start()
  await put(10)
  await delivered(10)
  const old = await name()
  await forwarding!.stop()
  await spool.close()
  folder[Symbol.dispose]()
  folder = tempDir()
  spool = await open()
  start()
  await put(3)
  await delivered(3)
  expect(intake.rows(old)).toEqual(upTo(10))
  expect(intake.rows(await name())).toEqual(upTo(3))
})
