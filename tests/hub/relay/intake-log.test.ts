import fc from 'fast-check'
import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest'
import { HubError } from '#hub/errors.ts'
import { openInfluxClient } from '#hub/store/influx/influx-client.ts'
import type { InfluxClient } from '#hub/store/influx/influx-client.ts'
import { openIntakeLog } from '#hub/store/influx/intake-log.ts'
import type { IntakeLog, LogName } from '#hub/store/intake-log.ts'
import type { SpooledMessage } from '#hub/store/spool-store.ts'
import { startInfluxd } from '#tests/support/services/services.ts'
import type { Service } from '#tests/support/services/services.ts'
import { until } from '#tests/support/until.ts'

const NAME: LogName = { writer: 'in-1', spool: 'a1b2' }
const SENT = 1_700_000_009_000

let influxd: Service
let client: InfluxClient
let intake: IntakeLog
let made = 0

const clientOf = (database: string): InfluxClient =>
  openInfluxClient({
    url: `http://127.0.0.1:${influxd.port}`,
    database,
    retention: null,
    auth: { kind: 'none' },
  })

beforeAll(async () => {
  influxd = await startInfluxd()
})
afterAll(async () => {
  await influxd?.[Symbol.asyncDispose]()
})
beforeEach(async () => {
  client = clientOf(`intake${++made}`)
  intake = openIntakeLog(client)
  await intake.ready()
})

const message = (row: number, changes: Partial<SpooledMessage> = {}): SpooledMessage => ({
  row,
  topic: 'lm1/fern1/up/r',
  payload: Buffer.from(`{"b":1,"n":${row},"u":3,"v":{"ph":6.42}}`),
  arrivedAt: 1_700_000_000_000 + row,
  mayBeDelayed: false,
  retain: false,
  ...changes,
})

test('gives back what was written: order, flags, times', async () => {
  await intake.append(NAME, [message(1), message(2, { mayBeDelayed: true, retain: true })], SENT)
  await intake.append(NAME, [message(3, { refused: 'payload: a "quoted" \\ reason' })], SENT + 1)
  const found = await intake.after(NAME, 0, 10)
  expect(found.map(({ payload }) => Buffer.from(payload).toString())).toEqual(
    [1, 2, 3].map((row) => Buffer.from(message(row).payload).toString()),
  )
  expect(found[0]).toMatchObject({
    row: 1,
    topic: 'lm1/fern1/up/r',
    arrivedAt: 1_700_000_000_001,
    sentAt: SENT,
    mayBeDelayed: false,
    retain: false,
  })
  expect(found[0]).not.toHaveProperty('refused')
  expect(found[1]).toMatchObject({ row: 2, mayBeDelayed: true, retain: true })
  expect(found[2]).toMatchObject({
    row: 3,
    refused: 'payload: a "quoted" \\ reason',
    sentAt: SENT + 1,
  })
  expect(await intake.after(NAME, 1, 1)).toMatchObject([{ row: 2 }])
  expect(await intake.after(NAME, 3, 10)).toEqual([])
  expect(await intake.after({ writer: 'in-2', spool: 'a1b2' }, 0, 10)).toEqual([])
})

test('any topic and any bytes come back as they were', async () => {
  const kinds = fc.oneof(
    fc.uint8Array({ maxLength: 60 }),
    fc.string({ unit: 'grapheme', maxLength: 40 }).map((text) => new Uint8Array(Buffer.from(text))),
    fc
      .array(fc.constantFrom('"', '\\', '\n', ' ', ',', '=', "'", '\t', '\u2028', 'é', '{'))
      .map((parts) => new Uint8Array(Buffer.from(parts.join('')))),
  )
  const topics = fc.oneof(
    fc.string({ unit: 'grapheme', maxLength: 40 }),
    fc
      .array(fc.constantFrom('"', '\\', '\n', ' ', ',', '=', 'a'), { maxLength: 10 })
      .map((parts) => parts.join('')),
  )
  const cases = fc.sample(fc.record({ topic: topics, payload: kinds }), { numRuns: 500, seed: 7 })
  const messages = cases.map(({ topic, payload }, i) => message(i + 1, { topic, payload }))
  await intake.append(NAME, messages, SENT)
  const found = await intake.after(NAME, 0, 1000)
  expect(found.map(({ topic, payload }) => [topic, Buffer.from(payload).toString('hex')])).toEqual(
    messages.map(({ topic, payload }) => [topic, Buffer.from(payload).toString('hex')]),
  )
})

test('the same again is the same, and every spool of a writer is a log of its own', async () => {
  await intake.append(NAME, [message(1), message(2)], SENT)
  await intake.append(NAME, [message(2), message(3)], SENT + 5)
  await intake.append({ ...NAME, spool: 'c3d4' }, [message(1)], SENT)
  await intake.append({ ...NAME, writer: 'in-2' }, [message(1), message(2)], SENT)
  expect((await intake.after(NAME, 0, 10)).map(({ row }) => row)).toEqual([1, 2, 3])
  expect((await intake.newest()).toSorted((a, b) => b.row - a.row)).toMatchObject([
    { ...NAME, row: 3 },
    { writer: 'in-2', spool: 'a1b2', row: 2 },
    { writer: 'in-1', spool: 'c3d4', row: 1 },
  ])
})

test('a message of which some fields are not there yet is not given', async () => {
  await intake.append(NAME, [message(1), message(2)], SENT)
  await client.write(
    [
      'intake,writer=in-1,spool=a1b2 topic="lm1/fern1/up/r",arrived=1,sent=1 3',
      'intake,writer=in-1,spool=a1b2 topic="x",payload="y",arrived=1,sent=1,flags=4 4',
      'intake,writer=in-1,spool=a1b2 payload="y",arrived=1,sent=1,flags=0 5',
    ],
    { precision: 'ns' },
  )
  expect((await intake.after(NAME, 0, 10)).map(({ row }) => row)).toEqual([1, 2])
})

test('trims a log up to a row and no other', async () => {
  const other = { ...NAME, spool: 'c3d4' }
  await intake.append(
    NAME,
    [1, 2, 3, 4].map((row) => message(row)),
    SENT,
  )
  await intake.append(other, [message(1)], SENT)
  await intake.trim(NAME, 3)
  expect((await intake.after(NAME, 0, 10)).map(({ row }) => row)).toEqual([4])
  expect((await intake.after(other, 0, 10)).map(({ row }) => row)).toEqual([1])
})

test('tells who reads and how far; the newest word counts', async () => {
  expect(await intake.reader()).toBeNull()
  expect(await intake.takenOf(NAME)).toBeNull()
  await intake.tell([{ ...NAME, row: 3, looks: 1 }], { hub: 'hub-one', beat: 1 })
  await intake.tell([{ ...NAME, row: 7, looks: 0 }], { hub: 'hub-one', beat: 2 })
  await intake.tell([], { hub: 'hub-one', beat: 3 })
  expect(await intake.reader()).toEqual({ hub: 'hub-one', beat: 3 })
  expect(await intake.takenOf(NAME)).toEqual({ ...NAME, row: 7, looks: 0 })
  expect(await intake.takenOf({ ...NAME, spool: 'other' })).toBeNull()
})

test('tells which processes are there', async () => {
  expect(await intake.beats()).toEqual([])
  await intake.beat('in-1', 5)
  await intake.beat('in-2', 6)
  await intake.beat('in-1', 7)
  expect((await intake.beats()).toSorted((a, b) => a.beat - b.beat)).toEqual([
    { writer: 'in-2', beat: 6 },
    { writer: 'in-1', beat: 7 },
  ])
})

test('a database in which data expire takes nothing, says why, and nothing is given up', async () => {
  await client.query(
    `ALTER RETENTION POLICY autogen ON intake${made} DURATION 30d SHARD DURATION 1d`,
  )
  const refused = await intake.append(NAME, [message(1)], SENT).catch((error: unknown) => error)
  expect(refused).toBeInstanceOf(HubError)
  expect(refused).toMatchObject({ code: 'HUB_STORE_UNAVAILABLE', retry: true })
  expect((refused as HubError).message).toMatch(/needs a retention policy without an end/)
  await client.query(`ALTER RETENTION POLICY autogen ON intake${made} DURATION INF`)
  await intake.append(NAME, [message(1)], SENT)
  expect(await intake.after(NAME, 0, 10)).toHaveLength(1)
})

test('the log survives the death of the database', async () => {
  await intake.append(NAME, [message(1), message(2)], SENT)
  await influxd.kill()
  await expect(intake.append(NAME, [message(3)], SENT)).rejects.toMatchObject({
    code: 'HUB_STORE_UNAVAILABLE',
    retry: true,
  })
  await influxd.start()
  await until('it answers', async () => (await intake.newest().catch(() => [])).length > 0)
  await intake.append(NAME, [message(3)], SENT)
  expect((await intake.after(NAME, 0, 10)).map(({ row }) => row)).toEqual([1, 2, 3])
})
