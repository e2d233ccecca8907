import fc from 'fast-check'
import { join } from 'node:path'
import { startForwarding } from '#hub/relay/forwarding.ts'
import { openSpoolStore } from '#hub/store/sqlite/open-spool-store.ts'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { HubError } from '#hub/errors.ts'
import type { Arrival } from '#hub/ingest/ingest.ts'
import { startLogReading } from '#hub/relay/log-reading.ts'
import type { LogReading } from '#hub/relay/log-reading.ts'
import { merge } from '#hub/relay/merge.ts'
import type { CursorStore } from '#hub/store/cursor-store.ts'
import type { LoggedMessage, LogName } from '#hub/store/intake-log.ts'
import { openCursorStore } from '#hub/store/sqlite/open-cursor-store.ts'
import { memoryIntakeLog } from '#tests/support/memory-intake-log.ts'
import type { MemoryIntakeLog } from '#tests/support/memory-intake-log.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

const START = 1_700_000_000_000
const DAY = 86_400_000
const A: LogName = { writer: 'in-a', spool: 's1' }
const B: LogName = { writer: 'in-b', spool: 's1' }

let folder: ReturnType<typeof tempDir>
let intake: MemoryIntakeLog
let cursors: CursorStore
let reading: LogReading | undefined
let arrivals: Arrival[]
let said: string[]
let now: number
let refuse: (batch: readonly Arrival[]) => boolean

const log = {
  warn: (text: string) => said.push(`NOTE ${text}`),
  info: (text: string) => said.push(text),
}
const openCursors = (readings = 'a file'): Promise<CursorStore> =>
  openCursorStore(join(folder.path, 'cursors.db'), readings, {
    onDeath(error) {
      throw error
    },
  })

beforeEach(async () => {
  folder = tempDir()
  intake = memoryIntakeLog()
  cursors = await openCursors()
  arrivals = []
  said = []
  now = START
  refuse = () => false
})
afterEach(async () => {
  await reading?.stop()
  reading = undefined
  await cursors.close()
  folder[Symbol.dispose]()
})

function start(hub = 'hub-one'): LogReading {
  reading = startLogReading({
    intake: intake.port,
    cursors,
    hub,
    async ingest(batch) {
      if (refuse(batch)) throw new HubError('HUB_STORE_UNAVAILABLE', 'no room', { retry: true })
      arrivals.push(...batch)
      return [{ topic: 'lm1/fern1/dn/ack', payload: '{}', retain: true }]
    },
    onDownlinks() {},
    clock: () => now,
    log,
    keepDays: 7,
    everyMs: 2,
    tellEveryMs: 0,
    backOffMs: { first: 2, last: 8 },
  })
  return reading
}
async function restart(readings?: string): Promise<void> {
  await reading?.stop()
  await cursors.close()
  cursors = await openCursors(readings)
  start()
}

const message = (row: number, changes: Partial<LoggedMessage> = {}): LoggedMessage => ({
  row,
  topic: 'lm1/fern1/up/r',
  payload: Buffer.from(`{"n":${row}}`),
  arrivedAt: START - 1000 + row,
  sentAt: START,
  mayBeDelayed: false,
  retain: false,
  ...changes,
})
const write = (name: LogName, messages: readonly LoggedMessage[]): Promise<void> =>
  intake.port.append(name, messages, messages[0]?.sentAt ?? START)
const some = (from: number, to: number): LoggedMessage[] =>
  Array.from({ length: to - from + 1 }, (_, i) => message(from + i))
const texts = (): string[] => arrivals.map(({ payload }) => Buffer.from(payload).toString())
const numbers = (from: number, to: number): string[] =>
  some(from, to).map(({ row }) => `{"n":${row}}`)
const taken = (name: LogName, row: number): Promise<unknown> =>
  until(`taken ${row}`, () => intake.taken(name)?.row === row)
const viewOf = (name: LogName) =>
  reading!.logs().find(({ writer, spool }) => writer === name.writer && spool === name.spool)

test('a log is taken in order, each message once, over a restart too', async () => {
  await write(A, some(1, 2500))
  start()
  await taken(A, 2500)
  await write(A, some(2501, 2510))
  await taken(A, 2510)
  await restart()
  await write(A, some(2511, 2511))
  await taken(A, 2511)
  expect(texts()).toEqual(numbers(1, 2511))
  expect(reading!.state().state).toBe('up')
  expect(viewOf(A)).toEqual({
    ...A,
    row: 2511,
    behind: 0,
    clockOffMs: null,
    silentSince: null,
    problem: null,
  })
})

test('with other readings all that the logs still hold is taken once more', async () => {
  await write(A, some(1, 5))
  start()
  await taken(A, 5)
  await restart('another file')
  await until('all again', () => arrivals.length === 10)
  await restart('another file')
  await write(A, some(6, 6))
  await taken(A, 6)
  expect(texts()).toEqual([...numbers(1, 5), ...numbers(1, 6)])
})

test('logs are read side by side in the order their messages arrived', async () => {
  const odd = some(1, 3000).map((m) => ({ ...m, arrivedAt: START - 9000 + 2 * m.row }))
  const even = some(1, 3000).map((m) => ({ ...m, arrivedAt: START - 8999 + 2 * m.row }))
  await write(A, odd)
  await write(B, even)
  start()
  await taken(A, 3000)
  await taken(B, 3000)
  const times = arrivals.map(({ arrivedAt }) => arrivedAt)
  expect(times).toHaveLength(6000)
  expect(times).toEqual(times.toSorted((a, b) => a - b))
})

test('merging: in order of arrival, each log in its own order, nothing beyond what is read', () => {
  const stretchOf = fc.record({
    gaps: fc.array(fc.nat(50), { maxLength: 30 }),
    more: fc.boolean(),
  })
  fc.assert(
    fc.property(
      fc.array(stretchOf, { maxLength: 5 }),
      fc.integer({ min: 1, max: 60 }),
      (made, most) => {
        const stretches = made.map(({ gaps, more }, writer) => {
          let at = 0
          const messages = gaps.map((gap, i) => {
            at += gap
            return message(i + 1, { arrivedAt: at, topic: String(writer) })
          })
          return { messages, next: 0, more }
        })
        const merged = merge(stretches, most).map(({ message: m }) => m)
        expect(merged.map((m) => m.arrivedAt)).toEqual(
          merged.map((m) => m.arrivedAt).toSorted((a, b) => a - b),
        )
        for (const [writer, { messages, next, more }] of stretches.entries()) {
          const own = merged.filter(({ topic }) => topic === String(writer))
          expect(own).toEqual(messages.slice(0, own.length))
          expect(next).toBe(own.length)
          // Nothing later than the end of what is read of a log that goes on.
          const last = messages.at(-1)?.arrivedAt ?? -Infinity
          if (more)
            expect(merged.every((m) => m.arrivedAt <= last || own.length < messages.length)).toBe(
              true,
            )
        }
        const all = stretches.reduce((sum, { messages }) => sum + messages.length, 0)
        if (!stretches.some(({ more }) => more)) expect(merged).toHaveLength(Math.min(most, all))
      },
    ),
  )
})

test('a store that refuses loses nothing and doubles nothing', async () => {
  let refusals = 0
  refuse = () => refusals++ < 3
  await write(A, some(1, 10))
  await write(B, some(1, 10))
  start()
  await taken(A, 10)
  await taken(B, 10)
  expect(arrivals).toHaveLength(20)
  expect(refusals).toBeGreaterThan(3)
  expect(said.filter((text) => text.includes('no room'))).toHaveLength(1)
  expect(said).toContain('the intake log is read again')
})

test('a database that is away is told, tried again, and read on', async () => {
  await write(A, some(1, 3))
  intake.away = true
  start()
  await until('several attempts', () => intake.refusals() > 3)
  expect(reading!.state()).toMatchObject({ state: 'down', problem: 'the database is away.' })
  intake.away = false
  await taken(A, 3)
  await until('up', () => reading!.state().state === 'up')
  expect(texts()).toEqual(numbers(1, 3))
})

test('a message that is there in part is waited for, and so is one that is absent', async () => {
  start()
  await write(A, some(1, 4))
  await taken(A, 4)
  // 5 to 7 are under way, 8 and 9 were seen first.
  await write(A, some(8, 9))
  await until('absent ones are told', () => {
    now += 1000
    return viewOf(A)?.problem
  })
  expect(viewOf(A)!.problem).toBe(
    'messages 5 to 7 of in-a are absent in the log. It sends them again as long as it has them.',
  )
  await write(B, some(1, 2))
  await taken(B, 2)
  await write(A, some(5, 7))
  await taken(A, 9)
  expect(texts().filter((text) => text === '{"n":7}')).toHaveLength(1)
  expect(viewOf(A)!.problem).toBeNull()
})

test('what the log lost comes once more from the spool of its process', async () => {
  const quiet = { warn() {}, info() {} }
  const spool = await openSpoolStore(join(folder.path, 'spool.db'), {
    onDeath(error) {
      throw error
    },
  })
  const forwarding = startForwarding({
    writer: 'in-a',
    spool,
    intake: intake.port,
    clock: Date.now,
    log: quiet,
    lookEveryMs: 5,
  })
  const put = async (from: number, to: number): Promise<void> => {
    await spool.append(some(from, to))
    forwarding.touch()
  }
  start()
  await put(1, 10)
  const name = { writer: 'in-a', spool: (await spool.state()).id }
  await taken(name, 10)
  // The serving hub stands still; meanwhile the database loses what it had confirmed, and more comes.
  await reading!.stop()
  await put(11, 20)
  await until('confirmed', async () => (await spool.state()).delivered === 20)
  intake.lose(name, 11, 18)
  await put(21, 25)
  await until('confirmed', async () => (await spool.state()).delivered === 25)
  start()
  await taken(name, 25)
  expect(texts()).toEqual(numbers(1, 25))
  // And the same at the end of the log, where nothing shows that there was more.
  await reading!.stop()
  await put(26, 30)
  await until('confirmed', async () => (await spool.state()).delivered === 30)
  intake.lose(name, 26, 30)
  start()
  await taken(name, 30)
  expect(texts()).toEqual(numbers(1, 30))
  await forwarding.stop()
  await spool.close()
})

test('what never comes is given up after a day, and said', async () => {
  start()
  await write(A, [...some(1, 2), ...some(5, 6)])
  await taken(A, 2)
  await until('told', () => {
    now += 1000
    return viewOf(A)?.problem
  })
  now += DAY
  await taken(A, 6)
  expect(texts()).toEqual([...numbers(1, 2), ...numbers(5, 6)])
  expect(said).toContain('NOTE messages 3 to 4 of in-a never came; the log is read on behind them')
})

test('a log that was trimmed is read from where it begins', async () => {
  await write(A, some(101, 105))
  start()
  await until('it is looked at', () => viewOf(A)?.behind === 105)
  expect(arrivals).toEqual([])
  now += 61_000
  await taken(A, 105)
  expect(texts()).toEqual(numbers(101, 105))
})

test('two spools of one writer are two logs', async () => {
  start()
  await write(A, some(1, 5))
  await write({ ...A, spool: 's2' }, some(1, 3))
  await taken(A, 5)
  await taken({ ...A, spool: 's2' }, 3)
  expect(arrivals).toHaveLength(8)
})

test('nothing arrives later than it is read', async () => {
  start()
  await write(A, [message(1, { arrivedAt: START + DAY }), message(2, { arrivedAt: START - 5 })])
  await taken(A, 2)
  expect(arrivals.map(({ arrivedAt }) => arrivedAt)).toEqual([START, START - 5])
})

test('what arrived more than a minute ago is no sign that its probe is there', async () => {
  start()
  await write(A, [
    message(1, { arrivedAt: START - 61_000 }),
    message(2, { arrivedAt: START - 59_000 }),
  ])
  await taken(A, 2)
  expect(arrivals.map(({ isOld }) => isOld)).toEqual([true, false])
})

test('a clock that is off is told once, with how far and which way', async () => {
  start()
  for (let row = 1; row <= 8; row++) {
    await write(A, [message(row, { sentAt: START + 40_000 })])
    await write(B, [message(row, { sentAt: START - 900 })])
    await taken(A, row)
    await taken(B, row)
    await until('its end is seen', () => viewOf(A)?.behind === 0)
    await new Promise((resolve) => setTimeout(resolve, 8))
  }
  expect(viewOf(A)!.clockOffMs).toBe(40_000)
  expect(viewOf(B)!.clockOffMs).toBeNull()
  expect(said).toEqual([
    'NOTE the clock of in-a is 40 s ahead: readings it takes get a wrong time. Have it set by NTP',
  ])
})

test('a process that says nothing any more is told of, and so is that it is back', async () => {
  await write(A, some(1, 2))
  await intake.port.beat('in-a', 1)
  start()
  await taken(A, 2)
  expect(viewOf(A)!.silentSince).toBeNull()
  now += 61_000
  await until('it is silent', () => viewOf(A)?.silentSince === START)
  await intake.port.beat('in-a', 2)
  await until('it is back', () => viewOf(A)?.silentSince === null)
  expect(said).toEqual([
    'NOTE in-a has said nothing for a minute. Its share of the readings waits at the broker or in its spool; ' +
      'probes send those again meanwhile',
    'in-a is back',
  ])
  // One that has been gone for as long as logs are kept is nobody's business any more.
  now += 61_000
  await until('it is silent', () => viewOf(A)?.silentSince)
  now += 7 * DAY
  await until('it is given up', () => viewOf(A)?.silentSince === null)
})

test('one hub alone reads: the second holds back and takes over when the first is gone', async () => {
  await write(A, some(1, 5))
  intake.setReader({ hub: 'other-hub', beat: 7 })
  start()
  await until('it holds back', () => reading!.state().problem !== null)
  expect(reading!.state().problem).toBe(
    'another hub (other-hu) reads the intake log, or did so a moment ago; one alone may',
  )
  now += 20_000
  intake.setReader({ hub: 'other-hub', beat: 8 })
  await new Promise((resolve) => setTimeout(resolve, 20))
  now += 20_000
  await new Promise((resolve) => setTimeout(resolve, 20))
  expect(arrivals).toEqual([])
  now += 11_000
  await taken(A, 5)
  expect(intake.reader()?.hub).toBe('hub-one')
  await until('up', () => reading!.state().state === 'up')
  // And gives way when another took its place while it was away.
  intake.setReader({ hub: 'other-hub', beat: 100 })
  await until('it holds back', () => reading!.state().problem !== null)
})

test('what was taken is trimmed by age', async () => {
  start()
  await write(A, some(1, 10))
  await taken(A, 10)
  now += DAY
  await write(A, some(11, 20))
  await taken(A, 20)
  now += 7 * DAY
  await write(A, some(21, 22))
  await until('trimmed', () => intake.rows(A)[0] === 11)
  await taken(A, 22)
  expect(intake.rows(A)[0]).toBe(11)
  // A database that deletes nothing is told of once and read on.
  intake.keepsAll = true
  for (const row of [23, 24, 25]) {
    now += DAY
    await write(A, [message(row)])
    await taken(A, row)
  }
  expect(reading!.state().state).toBe('up')
  expect(said.filter((text) => text.includes('trimmed'))).toEqual([
    'NOTE the intake log cannot be trimmed and grows: DELETE is unknown here.',
  ])
})
