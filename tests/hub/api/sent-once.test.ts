import { expect, test } from 'vitest'
import type { ApiHost } from '../../support/api-host.ts'
import { apiHost } from '../../support/api-host.ts'

const NOW = Date.UTC(2026, 5, 1)
const KEY = '"8e03978e-40d5-43dd-bc93-6894a57f9324"'

async function withBed(host: ApiHost): Promise<number> {
  const { body } = await host.call('POST', '/api/beds', {
    name: 'Long bed',
    areaM2: 4,
    depthM: 0.3,
    texture: 'loam',
    crops: [],
    ownBand: null,
  })
  return (body as { id: number }).id
}
const sent = async (host: ApiHost, url: string, key: string, payload: object) => {
  const answer = await host.app.inject({
    method: 'POST',
    url,
    payload,
    headers: { 'idempotency-key': key },
  })
  return { status: answer.statusCode, body: JSON.parse(answer.body) as Record<string, unknown> }
}
const journal = async (host: ApiHost, bed: number) =>
  (await host.call('GET', `/api/beds/${bed}/journal`)).body as { text: string }[]

const note = { kind: 'note', at: NOW - 1000, text: 'first bean in flower' }
const session = { at: NOW - 1000, method: 'hand meter', values: [6.4, 6.6], wanted: 0.2 }

test.each([
  ['journal', note],
  ['measuring', session],
])('%s: the same sent again is stored once, with the same answer', async (what, body) => {
  await using host = await apiHost(NOW)
  const bed = await withBed(host)
  const url = `/api/beds/${bed}/${what}`
  const first = await sent(host, url, KEY, body)
  expect(first.status).toBe(201)
  const told = host.events.filter(({ event }) => event === 'journal').length
  expect(await sent(host, url, KEY, body)).toEqual(first)
  expect(await sent(host, url, KEY.replaceAll('"', ''), body)).toEqual(first)
  expect(await journal(host, bed)).toHaveLength(1)
  expect(host.events.filter(({ event }) => event === 'journal')).toHaveLength(told)
})

test('many at the same time are stored once', async () => {
  await using host = await apiHost(NOW)
  const bed = await withBed(host)
  const answers = await Promise.all(
    Array.from({ length: 12 }, () => sent(host, `/api/beds/${bed}/journal`, KEY, note)),
  )
  expect(new Set(answers.map(({ body }) => body['id'])).size).toBe(1)
  expect(await journal(host, bed)).toHaveLength(1)
})

test('the same key with other content is refused, and nothing changes', async () => {
  await using host = await apiHost(NOW)
  const bed = await withBed(host)
  await sent(host, `/api/beds/${bed}/journal`, KEY, note)
  const other = await sent(host, `/api/beds/${bed}/journal`, KEY, {
    ...note,
    text: 'something else',
  })
  expect(other.status).toBe(422)
  expect(other.body['detail']).toMatch(/Idempotency-Key that was not used before/)
  expect((await journal(host, bed)).map(({ text }) => text)).toEqual([note.text])
})

test('an entry that was removed meanwhile does not come back', async () => {
  await using host = await apiHost(NOW)
  const bed = await withBed(host)
  const first = await sent(host, `/api/beds/${bed}/journal`, KEY, note)
  await host.call('DELETE', `/api/journal/${String(first.body['id'])}`)
  expect(await sent(host, `/api/beds/${bed}/journal`, KEY, note)).toEqual(first)
  expect(await journal(host, bed)).toEqual([])
})

test('a key that was refused can be used for what was put right', async () => {
  await using host = await apiHost(NOW)
  const bed = await withBed(host)
  const ahead = { ...note, at: NOW + 40 * 86_400_000 }
  expect((await sent(host, `/api/beds/${bed}/journal`, KEY, ahead)).status).toBe(400)
  expect((await sent(host, `/api/beds/${bed}/journal`, KEY, note)).status).toBe(201)
})

test('a key that is none is refused with what was expected', async () => {
  await using host = await apiHost(NOW)
  const bed = await withBed(host)
  const answer = await sent(host, `/api/beds/${bed}/journal`, 'short', note)
  expect(answer.status).toBe(400)
  expect(JSON.stringify(answer.body)).toMatch(/16 to 80 letters/)
  expect(await journal(host, bed)).toEqual([])
})
