import { beforeEach, expect, test } from 'vitest'
import { createIngest, type Arrival, type Downlink, type Ingest } from '#hub/ingest/ingest.ts'
import { memoryGarden, memoryReadings } from '#tests/support/memory-stores.ts'

const SECOND = 1000
const MINUTE = 60 * SECOND
const HOUR = 60 * MINUTE
const T0 = 1_780_000_000_000
const FIRST_ID = 1_780_000_000

let readings: ReturnType<typeof memoryReadings>
let garden: ReturnType<typeof memoryGarden>
let ingest: Ingest
let answers: string[]
let said: string[]

function start(): void {
  ingest = createIngest({
    readings: readings.port,
    garden: garden.port,
    clock: () => now,
    log: { warn: (m) => said.push(m), info: () => undefined },
    onAnswer: (probe) => answers.push(probe),
  })
}
let now: number
beforeEach(() => {
  readings = memoryReadings()
  garden = memoryGarden()
  answers = []
  said = []
  now = T0
  start()
})

function message(leaf: string, body: object, some: Partial<Arrival> = {}): Arrival {
  return {
    topic: `lm1/bed3a/up/${leaf}`,
    payload: new TextEncoder().encode(JSON.stringify(body)),
    retain: false,
    mayBeDelayed: false,
    arrivedAt: now,
    ...some,
  }
}
/** Lets so much time pass, then the probe sends what is given. */
const after = (ms: number, ...messages: (() => Arrival)[]): Promise<readonly Downlink[]> => {
  now += ms
  return ingest.ingest(messages.map((make) => make()))
}
const reading =
  (n: number, b = 1) =>
  (): Arrival =>
    message('r', { b, n, u: Math.round((now - T0) / SECOND), v: { m1: n } })
const on = () => message('state', { s: 'on', b: 1, u: Math.round((now - T0) / SECOND) })
const result = (body: object) => () => message('res', body)
const batch =
  (...rows: number[]) =>
  () =>
    message('b', {
      b: 1,
      u: Math.round((now - T0) / SECOND),
      c: ['m1'],
      r: rows.map((n) => [n, n, n]),
    })
const commands = (downlinks: readonly Downlink[]): unknown[] =>
  downlinks
    .filter(({ topic }) => topic === 'lm1/bed3a/dn/cmd')
    .map(({ payload, retain }) => {
      expect(retain).toBe(false)
      return JSON.parse(payload) as unknown
    })

test('a hole that stays open is asked for, not before the probe had its chance, and ever more rarely', async () => {
  await after(0, reading(0), reading(1), reading(4))
  const asked: [number, unknown][] = []
  for (let minute = 1; minute <= 200; minute++) {
    const got = commands(await after(MINUTE, reading(4 + minute)))
    for (const one of got) asked.push([minute, (one as { id: number }).id])
  }
  // The hole is named, with its length.
  expect([...garden.orders.values()][0]).toMatchObject({
    kind: 'resend',
    boot: 1,
    from: 2,
    count: 2,
  })
  const first = new Map<unknown, number>()
  for (const [minute, id] of asked) if (!first.has(id)) first.set(id, minute)
  // Two minutes, then pauses of 4, 8, 16, 32, 64 minutes; between them a command goes out again unanswered.
  expect([...first.values()]).toEqual([2, 6, 14, 30, 62, 126])
}, 20_000)

test('a probe with a long interval gets three of them', async () => {
  await after(0, () => message('birth', { p: 1, fw: 'x', b: 1, u: 0, iv: 900, ch: 'm1' }))
  await after(0, reading(0), reading(2))
  expect(commands(await after(30 * MINUTE, reading(3)))).toEqual([])
  expect(commands(await after(15 * MINUTE, reading(4)))).toMatchObject([
    { do: 'resend', n: 1, k: 1 },
  ])
})

test('what comes or is written off is not asked for any more', async () => {
  await after(0, reading(0), reading(2), reading(5))
  await after(MINUTE, batch(1))
  // A new hole has its own time.
  expect(commands(await after(90 * SECOND, reading(6)))).toEqual([])
  expect(commands(await after(2 * MINUTE, reading(7)))).toMatchObject([{ n: 3, k: 2 }])
  await after(SECOND, result({ id: FIRST_ID + 272, ok: true }), batch(5))
  expect(readings.marks.get('bed3a/1')).toMatchObject({ top: 7, lost: 2, missing: 0 })
  for (let hour = 0; hour < 30; hour++)
    expect(
      commands(await after(HOUR, reading(8 + hour))).filter(
        (c) => (c as { id: number }).id > FIRST_ID + 272,
      ),
    ).toEqual([])
})

test('a probe that says it no longer holds them has them written off, and is told so', async () => {
  await after(0, reading(0), reading(3))
  const [asked] = commands(await after(2 * MINUTE, reading(4)))
  expect(asked).toEqual({ id: FIRST_ID + 120, do: 'resend', b: 1, n: 1, k: 2 })
  const answer = await after(SECOND, result({ id: FIRST_ID + 120, ok: false, e: 'gone' }))
  expect(answer).toContainEqual({
    topic: 'lm1/bed3a/dn/ack',
    payload: '{"b":1,"n":4}',
    retain: true,
  })
  expect(readings.marks.get('bed3a/1')).toMatchObject({ top: 4, lost: 2, missing: 0 })
  expect(said).toEqual([])
})

test("another probe's answer, a second one or one to nothing writes nothing off", async () => {
  await after(0, reading(0), reading(3))
  await after(2 * MINUTE, reading(4))
  const stranger = (): Arrival =>
    message('res', { id: FIRST_ID + 120, ok: false, e: 'gone' }, { topic: 'lm1/bed4/up/res' })
  await after(SECOND, stranger, result({ id: 99, ok: false, e: 'gone' }))
  expect(readings.marks.get('bed3a/1')).toMatchObject({ top: 0, missing: 2 })
  await after(
    SECOND,
    result({ id: FIRST_ID + 120, ok: false, e: 'busy' }),
    result({ id: FIRST_ID + 120, ok: false, e: 'gone' }),
  )
  expect(readings.marks.get('bed3a/1')).toMatchObject({ top: 0, missing: 2 })
  expect(said).toEqual(['bed3a refused to send readings again: busy'])
})

test('a reading that the broker held back shows no probe that could be asked', async () => {
  await after(0, reading(0), reading(2))
  now += HOUR
  const late = message('r', { b: 1, n: 3, u: 3600, v: { m1: 3 } }, { mayBeDelayed: true })
  expect(commands(await ingest.ingest([late]))).toEqual([])
})

test('a command reaches a probe when it wakes, again under the same number until it answers, then no more', async () => {
  const order = await ingest.orders.command('bed3a', 'hello', now, now + HOUR)
  const command = { id: order.id, do: 'hello' }
  expect(commands(await after(10 * MINUTE, on))).toEqual([command])
  expect(commands(await after(30 * SECOND, reading(0)))).toEqual([])
  expect(commands(await after(MINUTE, reading(1)))).toEqual([command])
  expect(commands(await after(MINUTE, reading(2)))).toEqual([])
  expect(commands(await after(MINUTE, on))).toEqual([command])
  await after(SECOND, result({ id: order.id, ok: true }))
  expect(answers).toEqual(['bed3a'])
  expect(garden.orders.get(order.id)).toMatchObject({ times: 3, answer: { ok: true } })
  expect(commands(await after(MINUTE, on))).toEqual([])
  // A second answer changes nothing.
  await after(SECOND, result({ id: order.id, ok: false, e: 'late' }))
  expect(garden.orders.get(order.id)).toMatchObject({ answer: { ok: true } })
})

test('a command expires, and survives a restart of the hub', async () => {
  await ingest.orders.command('bed3a', 'reboot', now, now + HOUR)
  now += 30 * MINUTE
  start()
  expect(commands(await after(0, on))).toHaveLength(1)
  expect(commands(await after(30 * MINUTE, on))).toEqual([])
})

test('settings stand retained until they are refused; then the last good ones do', async () => {
  const good = await ingest.orders.settings(
    'bed3a',
    { intervalS: 300, samples: null, settleS: 60 },
    now,
  )
  await after(SECOND, () =>
    message('birth', { p: 1, fw: 'x', b: 1, u: 0, iv: 300, ch: 'm1', cv: good.id }),
  )
  expect(garden.orders.get(good.id)).toMatchObject({ answer: { ok: true, reason: null } })
  const bad = await ingest.orders.settings(
    'bed3a',
    { intervalS: 60, samples: 256, settleS: 600 },
    now,
  )
  await after(SECOND, result({ id: bad.id, ok: false, e: 'iv' }))
  expect(garden.orders.get(bad.id)).toMatchObject({ answer: { ok: false, reason: 'iv' } })
  expect(answers).toEqual(['bed3a', 'bed3a'])
  expect(said).toEqual(['bed3a refused settings: iv'])
  expect(commands(await after(MINUTE, on))).toEqual([])
})

test('a reading that arrived long ago is stored, but its probe is not taken to be there', async () => {
  await after(0, reading(0), reading(2))
  const old = () => message('r', { b: 1, n: 3, u: 9, v: { m1: 3 } }, { isOld: true })
  expect(commands(await after(HOUR, old))).toEqual([])
  expect(readings.marks.get('bed3a/1')).toMatchObject({ top: 0, highest: 3 })
  expect(commands(await after(SECOND, reading(4)))).toMatchObject([{ do: 'resend', n: 1, k: 1 }])
})
