import { afterAll, beforeAll, expect, test } from 'vitest'
import { startInfluxd, type Service } from '../support/services/services.ts'

let influxd: Service
beforeAll(async () => {
  influxd = await startInfluxd()
  await query(influxd, 'CREATE DATABASE beds', 'POST')
})
afterAll(() => influxd[Symbol.asyncDispose]())

interface Answer {
  readonly status: number
  readonly text: string
}

async function query(
  { port }: Service,
  q: string,
  method = 'GET',
  headers: Record<string, string> = {},
): Promise<Answer> {
  const url = `http://127.0.0.1:${port}/query?db=beds&q=${encodeURIComponent(q)}`
  const response = await fetch(url, { method, headers })
  return { status: response.status, text: await response.text() }
}

async function write({ port }: Service, line: string, ms = 5000): Promise<number> {
  const response = await fetch(`http://127.0.0.1:${port}/write?db=beds&precision=s`, {
    method: 'POST',
    body: line,
    signal: AbortSignal.timeout(ms),
  })
  await response.arrayBuffer()
  return response.status
}

test('what it confirmed is there after kill -9, on the same port', async () => {
  const { port } = influxd
  expect(await write(influxd, 'level value=6.4 1')).toBe(204)
  await influxd.kill()
  await expect(write(influxd, 'level value=6.5 2')).rejects.toThrow()
  await influxd.start()
  expect(influxd.port).toBe(port)
  const { text } = await query(influxd, 'SELECT value FROM level')
  expect(text).toContain('1970-01-01T00:00:01Z')
  expect(text).toContain('6.4')
  expect(text).not.toContain('6.5')
})

test('stopped politely it is away, and comes back with its data', async () => {
  expect(await write(influxd, 'stays value=1 1')).toBe(204)
  await influxd.stop()
  await expect(write(influxd, 'stays value=2 2')).rejects.toThrow()
  await influxd.start()
  expect((await query(influxd, 'SELECT value FROM stays')).text).toContain('1970-01-01T00:00:01Z')
})

test('frozen, a write waits in vain; thawed, it works', async () => {
  await influxd.freeze()
  await expect(write(influxd, 'frozen value=1 1', 500)).rejects.toThrow(/timeout|aborted/i)
  await influxd.thaw()
  expect(await write(influxd, 'frozen value=2 2')).toBe(204)
})

test('with a password it lets nobody in without, and its administrator with it', async () => {
  await using closed = await startInfluxd({ auth: { user: 'gard"en', password: "it's \\ long" } })
  const basic = `Basic ${Buffer.from(`gard"en:it's \\ long`).toString('base64')}`
  expect((await query(closed, 'SHOW DATABASES')).status).toBe(401)
  expect((await query(closed, 'SHOW DATABASES', 'GET', { authorization: basic })).status).toBe(200)
})
