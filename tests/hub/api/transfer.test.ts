import { expect, test } from 'vitest'
import { apiHost } from '../../support/api-host.ts'

const NOW = Date.parse('2026-06-01T12:00:00Z')
const MAP = {
  layout: 'wide',
  delimiter: ',',
  decimal: '.',
  headings: true,
  time: { column: 'time', format: 'iso', zone: 'UTC' },
  probe: { id: 'fern1' },
  channels: [{ column: 'mv', channel: 'phmv', unit: '', senses: null }],
}
const FILE = 'time,mv\n2026-05-01T10:00,12.5\n2026-05-01T10:10,NaN\n'
const query = (map: unknown): string => `map=${encodeURIComponent(JSON.stringify(map))}`

test('a file is looked at, checked, stored; open pages hear of it', async () => {
  await using host = await apiHost(NOW)
  const post = async (url: string, payload: string) => {
    const headers = { 'content-type': 'text/csv' }
    const response = await host.app.inject({ method: 'POST', url, payload, headers })
    return { status: response.statusCode, body: response.json<Record<string, unknown>>() }
  }
  expect(await post('/api/import/look', FILE)).toMatchObject({
    status: 200,
    body: { columns: ['time', 'mv'], map: { layout: 'wide', time: { zone: 'Europe/Lisbon' } } },
  })
  const checked = await post(`/api/import/check?${query(MAP)}`, FILE)
  expect(checked).toMatchObject({ status: 200, body: { readings: 2, stored: null } })
  expect(checked.body['preview']).toMatchObject([{ line: 2 }, { values: [{ value: null }] }])
  expect(await host.deps.garden.probes()).toEqual([])
  expect(await post(`/api/import/store?${query(MAP)}`, FILE)).toMatchObject({ body: { stored: 2 } })
  expect(await post(`/api/import/store?${query(MAP)}`, FILE)).toMatchObject({ body: { stored: 0 } })
  expect(host.events.map(({ event }) => event)).toContain('probes')

  expect(await post('/api/import/check', FILE)).toMatchObject({ status: 400 })
  expect(await post('/api/import/check?map=x', FILE)).toMatchObject({
    status: 400,
    body: { errors: [{ path: 'map', message: 'expected JSON, got "x"' }] },
  })
  const bad = { ...MAP, probe: { id: 'Fern 1' }, channels: [] }
  expect(await post(`/api/import/check?${query(bad)}`, FILE)).toMatchObject({ status: 400 })
  const large = await post('/api/import/look', 'x'.repeat(300 * 1024))
  expect(large).toMatchObject({ status: 413, body: { detail: expect.stringContaining('256 KiB') } })
})

test('the larger body is for files alone', async () => {
  await using host = await apiHost(NOW)
  const answer = await host.call('PUT', '/api/garden', { name: 'x'.repeat(300 * 1024) })
  expect(answer.status).toBe(413)
  const rows = Array.from({ length: 20_000 }, (_, i) => `${NOW - i * 60_000},${i % 50}`)
  const map = { ...MAP, time: { ...MAP.time, format: 'milliseconds' } }
  const file = ['time,mv', ...rows].join('\n')
  expect(file.length).toBeGreaterThan(256 * 1024)
  const response = await host.app.inject({
    method: 'POST',
    url: `/api/import/check?${query(map)}`,
    payload: file,
    headers: { 'content-type': 'application/octet-stream' },
  })
  expect(response.json()).toMatchObject({ readings: 20_000, badCount: 0 })
})

test('exports: names, types, refusals', async () => {
  await using host = await apiHost(NOW)
  const get = (url: string) => host.app.inject({ method: 'GET', url })
  const csv = await get('/api/export/readings.csv')
  expect(csv.headers['content-type']).toBe('text/csv; charset=utf-8')
  expect(csv.headers['content-disposition']).toBe('attachment; filename="readings.csv"')
  expect((await get('/api/export/readings.lp?step=hour')).headers['content-disposition']).toContain(
    'readings-by-hour.lp',
  )
  expect((await get('/api/export/readings.csv?from=5&to=5')).json()).toMatchObject({
    status: 400,
    errors: [{ path: 'to' }],
  })
  expect((await get('/api/export/readings.csv?probe=oak1')).json()).toMatchObject({
    errors: [{ path: 'probe', message: "expected one of none yet, got 'oak1'" }],
  })
  expect((await get('/api/export/readings.csv?zone=Mars')).statusCode).toBe(400)
  for (const table of ['journal', 'beds', 'probes', 'placements', 'calibrations', 'soil-tests']) {
    expect((await get(`/api/export/records/${table}`)).statusCode, table).toBe(200)
  }
  expect((await get('/api/export/records/secrets')).statusCode).toBe(400)
  const tar = await get('/api/backup.tar')
  expect(tar.headers['content-type']).toBe('application/x-tar')
  expect(tar.rawPayload.length % 512).toBe(0)
})
