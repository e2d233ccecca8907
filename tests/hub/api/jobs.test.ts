import { DatabaseSync } from 'node:sqlite'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { JobView } from '#hub/api/schemas/job.ts'
import { DAY } from '#hub/model/clock.ts'
import { openStores } from '#hub/store/open.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import { smallGarden, SMALL_GARDEN_NOW } from '../../support/small-garden.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { until } from '../../support/until.ts'

const over = (host: ApiHost, id: number): Promise<JobView> =>
  until('the job is over', async () => {
    const { body } = await host.call('GET', `/api/jobs/${id}`)
    const job = body as JobView
    return job.endedAt === null ? undefined : job
  })

test('hours and days are made anew from the readings; strays go, what is missing comes', async () => {
  using dir = tempDir()
  const at = Date.UTC(2026, 4, 1)
  const query = { probe: 'kes1', channel: 'phmv', from: 0, to: at + 90 * DAY } as const
  let stores = await openStores(dir.path)
  const readings = Array.from({ length: 70 * 24 }, (_, seq) => ({
    probe: 'kes1',
    boot: 1,
    seq,
    uptimeS: seq,
    at: at + seq * 3_600_000,
    placedBy: 'arrival' as const,
    arrivedAt: at,
    deviceAt: null,
    flags: 0,
    values: [{ channel: 'phmv', value: seq % 11 === 0 ? NaN : seq / 8 }],
  }))
  await stores.readings.append({ readings, anchors: [], marks: [], quarantined: [] })
  await stores.readings.settle()
  const read = () =>
    stores.readings.buckets([
      { ...query, step: 'hour' },
      { ...query, step: 'day' },
    ])
  const before = await read()
  await stores.close()
  const db = new DatabaseSync(join(dir.path, 'readings.db'))
  db.exec(`DELETE FROM daily WHERE t % 5 = 0; UPDATE daily SET mean = 99;
    INSERT INTO daily SELECT series, t + 8640000000, n, low, mean, high, median FROM daily LIMIT 3`)
  db.close()
  stores = await openStores(dir.path)
  expect(await read()).not.toEqual(before)
  const told: number[] = []
  // Given up after the first slice: the rest is as it was.
  const abort = new AbortController()
  const half = await stores.readings.rebuild({
    signal: abort.signal,
    tell: () => abort.abort(),
  })
  expect(half).toEqual({ days: 30, of: 70 })
  expect(await stores.readings.rebuild({ tell: (share) => told.push(share) })).toEqual({
    days: 70,
    of: 70,
  })
  expect(told).toEqual([30 / 70, 60 / 70, 1])
  expect(await read()).toEqual(before)
  await stores.close()
})

test('a rebuild and a replay are begun, told of and kept; the past says what it would have raised', async () => {
  await using host = await apiHost(SMALL_GARDEN_NOW)
  await smallGarden(host, { days: 20, bed: 'Heron Row' })
  const rebuilt = await host.call('POST', '/api/jobs', { kind: 'rebuild' })
  expect(rebuilt.status).toBe(202)
  const first = await over(host, (rebuilt.body as JobView).id)
  // Two probes, twenty days and the two halves at their ends.
  expect(first).toMatchObject({ state: 'done', share: 1, done: 2 * 21, reason: null })

  const again = await host.call('POST', '/api/jobs', { kind: 'replay' })
  const second = await over(host, (again.body as JobView).id)
  expect(second.state, second.reason ?? '').toBe('done')
  expect(second.replayed!.hours).toBeGreaterThanOrEqual(20 * 24)
  expect(second.replayed!.alarms.every(({ bed }) => bed === 'Heron Row')).toBe(true)
  const list = (await host.call('GET', '/api/jobs')).body as JobView[]
  expect(list.map(({ kind }) => kind)).toEqual(['replay', 'rebuild'])
  const events = host.events.filter(({ event }) => event === 'job')
  expect(events.length).toBeGreaterThanOrEqual(4)

  expect((await host.call('GET', '/api/jobs/99')).status).toBe(404)
  expect((await host.call('POST', '/api/jobs/99/cancel')).status).toBe(404)
  expect((await host.call('POST', '/api/jobs', { kind: 'dig' })).status).toBe(400)
})

/** A table of one probe, a reading a minute. */
const table = (rows: number): string =>
  [
    'time,probe,phmv (mV)',
    ...Array.from(
      { length: rows },
      (_, i) => `${new Date(SMALL_GARDEN_NOW - (rows - i) * 60_000).toISOString()},fern1,${i % 50}`,
    ),
  ].join('\n')
const MAP = {
  layout: 'wide',
  delimiter: ',',
  decimal: '.',
  headings: true,
  time: { column: 'time', format: 'iso', zone: 'UTC' },
  probe: { column: 'probe' },
  channels: [{ column: 'phmv (mV)', channel: 'phmv', unit: 'mV', senses: 'ph.emf' }],
}
const send = (host: ApiHost, text: string) =>
  host.app.inject({
    method: 'POST',
    url: `/api/import/store?map=${encodeURIComponent(JSON.stringify(MAP))}`,
    headers: { 'content-type': 'text/csv' },
    payload: text,
  })

test.each([
  ['while rows are looked at', 'check', 0],
  ['while readings are stored', 'store', 4000],
] as const)(
  'an import given up %s says what stays, and the same file brings the rest',
  async (_, when, stays) => {
    await using host = await apiHost(SMALL_GARDEN_NOW)
    const { readings } = host.deps
    const rows = 15_000
    const append = readings.append.bind(readings)
    const settle = readings.settle.bind(readings)
    const giveUp = (): void => {
      const [job] = host.deps.jobs.list()
      expect(job).toMatchObject({ kind: 'import', state: 'running' })
      host.deps.jobs.cancel(job!.id)
    }
    let slices = 0
    readings.append = async (batch) => {
      await append(batch)
      if (when === 'store' && ++slices === 2) giveUp()
    }
    readings.settle = async () => {
      await settle()
      if (when === 'check' && host.deps.jobs.list()[0]?.state === 'running') giveUp()
    }
    const given = await send(host, table(rows))
    expect(given.statusCode).toBe(409)
    expect(given.json<{ detail: string }>().detail).toContain(
      stays === 0 ? 'nothing was stored' : `${stays} of ${rows}`,
    )
    Object.assign(readings, { append, settle })
    await readings.settle()
    expect((await readings.counts()).readings).toBe(stays)
    const [job] = (await host.call('GET', '/api/jobs')).body as JobView[]
    expect(job).toMatchObject({
      state: 'cancelled',
      kept: stays === 0 ? null : { done: stays, of: rows },
    })
    const whole = await send(host, table(rows))
    expect(whole.statusCode, whole.body).toBe(200)
    expect(whole.json<{ stored: number }>().stored).toBe(rows - stays)
    expect((await readings.counts()).readings).toBe(rows)
  },
)

test('a backup is a job too, and given up it leaves nothing behind', async () => {
  await using host = await apiHost(SMALL_GARDEN_NOW)
  await smallGarden(host)
  const tar = await host.app.inject({ url: '/api/backup.tar' })
  expect(tar.statusCode).toBe(200)
  const [job] = host.deps.jobs.list()
  expect(job).toMatchObject({ kind: 'backup', state: 'done', share: 1 })
  expect((job!.result as { done: number }).done).toBeGreaterThan(10_000)

  const answer = host.app.inject({ url: '/api/backup.tar' })
  await until('the next one runs', () => host.deps.jobs.list()[0]!.state === 'running')
  host.deps.jobs.cancel(host.deps.jobs.list()[0]!.id)
  expect((await answer).statusCode).toBe(409)
  expect(host.deps.jobs.list()[0]).toMatchObject({ state: 'cancelled', kept: null })
  // And the next may be made.
  expect((await host.app.inject({ url: '/api/backup.tar' })).statusCode).toBe(200)
})
