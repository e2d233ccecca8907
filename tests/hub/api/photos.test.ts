import { afterAll, beforeAll, expect, test } from 'vitest'
import type { Problem } from '#hub/api/schemas/common.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'

const NOW = 1_780_000_000_000
let host: ApiHost
let bed = 0
beforeAll(async () => {
  host = await apiHost(NOW)
  const body = {
    name: 'Fern bed',
    areaM2: 2,
    depthM: 0.2,
    texture: 'loam',
    crops: [],
    ownBand: null,
  }
  bed = ((await host.call('POST', '/api/beds', body)).body as { id: number }).id
})
afterAll(async () => {
  await host[Symbol.asyncDispose]()
})

/** The first bytes of each kind of picture, as their specifications have them, and some more. */
const JPEG = Buffer.from([0xff, 0xd8, 0xff, 0xe0, 0, 16, 0x4a, 0x46, 0x49, 0x46, 0, 1, 2, 3])
const PNG = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a, 0, 0, 0, 13, 9, 8])
const WEBP = Buffer.concat([
  Buffer.from('RIFF'),
  Buffer.from([20, 0, 0, 0]),
  Buffer.from('WEBPVP8 '),
  Buffer.from([1, 2, 3]),
])

async function newEntry(): Promise<number> {
  const answer = await host.call('POST', `/api/beds/${bed}/journal`, {
    at: NOW,
    kind: 'note',
    text: 'looks well',
  })
  return (answer.body as { id: number }).id
}
const put = (entry: number | string, payload: Buffer | string, type: string) =>
  host.app.inject({
    method: 'PUT',
    url: `/api/journal/${entry}/photo`,
    headers: { 'content-type': type },
    payload,
  })
const get = (entry: number | string) =>
  host.app.inject({ method: 'GET', url: `/api/journal/${entry}/photo` })

test.each([
  ['image/jpeg', JPEG],
  ['image/png', PNG],
  ['image/webp', WEBP],
] as const)(
  'a picture %s comes back byte for byte, and no browser may guess',
  async (type, bytes) => {
    const entry = await newEntry()
    const before = host.events.length
    expect((await put(entry, bytes, type)).statusCode).toBe(204)
    expect(host.events.slice(before)).toEqual([{ event: 'journal', data: { bedId: bed } }])
    const answer = await get(entry)
    expect(answer.statusCode).toBe(200)
    expect(answer.rawPayload.equals(bytes)).toBe(true)
    expect(answer.headers).toMatchObject({
      'content-type': type,
      'content-disposition': 'inline',
      'x-content-type-options': 'nosniff',
      'content-security-policy': "default-src 'none'",
    })
    expect((await host.call('GET', `/api/beds/${bed}/photos`)).body).toContain(entry)
  },
)

test('what it is is told by its bytes, not by what the sender says', async () => {
  const entry = await newEntry()
  expect((await put(entry, PNG, 'image/jpeg')).statusCode).toBe(204)
  expect((await get(entry)).headers['content-type']).toBe('image/png')
  // A phone that does not say what it sends.
  expect((await put(entry, JPEG, 'application/octet-stream')).statusCode).toBe(204)
  expect((await get(entry)).headers['content-type'], 'the new one took its place').toBe(
    'image/jpeg',
  )
})

test('what is no picture is refused, and says what is expected', async () => {
  const entry = await newEntry()
  const script = '<svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>'
  for (const [payload, type] of [
    [script, 'image/svg+xml'],
    [script, 'image/png'],
    ['{"a":1}', 'application/json'],
    ['GIF89a', 'image/gif'],
    [Buffer.from('RIFF1234WAVE'), 'image/webp'],
    [Buffer.alloc(0), 'image/jpeg'],
    [JPEG.subarray(0, 2), 'image/jpeg'],
  ] as const) {
    const answer = await put(entry, payload as Buffer, type)
    expect(answer.statusCode, `${type}: ${answer.body}`).toBe(415)
    expect(answer.headers['content-type']).toContain('application/problem+json')
    expect(answer.json<Problem>().detail).toContain('expected a JPEG, PNG or WebP picture')
  }
  const none = await host.app.inject({ method: 'PUT', url: `/api/journal/${entry}/photo` })
  expect(none.statusCode).toBe(415)
  expect((await get(entry)).statusCode).toBe(404)
})

test('3 MiB may come on this way and on no other', async () => {
  const entry = await newEntry()
  const most = 3 * 1024 * 1024
  const full = Buffer.concat([JPEG, Buffer.alloc(most - JPEG.length, 7)])
  expect((await put(entry, full, 'image/jpeg')).statusCode).toBe(204)
  expect((await get(entry)).rawPayload.equals(full)).toBe(true)
  const more = await put(entry, Buffer.concat([full, Buffer.from([1])]), 'image/jpeg')
  expect(more.statusCode).toBe(413)
  expect(more.json<Problem>().detail).toBe('expected a body of at most 3072 KiB')
  expect((await get(entry)).rawPayload.length, 'the one before stays').toBe(most)
  const form = await host.call('POST', `/api/beds/${bed}/journal`, {
    at: NOW,
    kind: 'note',
    text: 'x'.repeat(300_000),
  })
  expect(form).toMatchObject({
    status: 413,
    body: { detail: 'expected a body of at most 256 KiB' },
  })
  const picture = await host.app.inject({
    method: 'POST',
    url: `/api/beds/${bed}/journal`,
    headers: { 'content-type': 'image/jpeg' },
    payload: JPEG,
  })
  expect(picture.statusCode, 'a form takes no picture').toBe(415)
})

test('a photo belongs to an entry that is there, and goes with it', async () => {
  expect((await put(4711, JPEG, 'image/jpeg')).statusCode).toBe(404)
  expect((await get(4711)).statusCode).toBe(404)
  expect((await get('one')).statusCode).toBe(400)
  expect((await host.call('GET', '/api/beds/999/photos')).status).toBe(404)
  const entry = await newEntry()
  expect((await host.call('DELETE', `/api/journal/${entry}/photo`)).status).toBe(404)
  await put(entry, JPEG, 'image/jpeg')
  expect((await host.call('DELETE', `/api/journal/${entry}/photo`)).status).toBe(204)
  expect((await get(entry)).statusCode).toBe(404)
  await put(entry, JPEG, 'image/jpeg')
  expect((await host.call('DELETE', `/api/journal/${entry}`)).status).toBe(204)
  expect((await get(entry)).statusCode).toBe(404)
  expect((await host.call('GET', `/api/beds/${bed}/photos`)).body).not.toContain(entry)
})

test('pages of other sites can neither give nor take one', async () => {
  const entry = await newEntry()
  const answer = await host.app.inject({
    method: 'PUT',
    url: `/api/journal/${entry}/photo`,
    headers: {
      'content-type': 'image/jpeg',
      origin: 'http://elsewhere.example',
      host: 'loamline.test',
    },
    payload: JPEG,
  })
  expect(answer.statusCode).toBe(403)
  expect((await get(entry)).statusCode).toBe(404)
})
