import { readdirSync } from 'node:fs'
import { DatabaseSync } from 'node:sqlite'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { healthNow } from '#hub/api/routes/health.ts'
import type { BedSeries } from '#hub/api/schemas/bed.ts'
import type { BroughtBackView, DamagedPartView } from '#hub/api/schemas/damaged.ts'
import type { Health } from '#hub/api/schemas/health.ts'
import type { ChannelSeries } from '#hub/api/schemas/probe.ts'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import type { Language } from '#hub/model/language.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import { batchOf, sampleReading } from '../../support/sample-readings.ts'

const NOW = Date.UTC(2026, 10, 20, 12)
const FIRST = Date.UTC(2026, 10, 17)
const PROBE = 'kestrel1'
const PER_DAY = DAY / MINUTE

/** A bed whose probe read every minute for three days, and from the second on in that bed. */
async function bedOfNovember(host: ApiHost): Promise<number> {
  const { garden, readings } = host.deps
  const bed = await garden.addBed(
    {
      name: 'Siskin',
      areaM2: 2,
      depthM: 0.3,
      texture: 'raised-bed mix',
      crops: ['tomato'],
      ownBand: null,
    },
    FIRST,
  )
  const spot = await garden.addSpot(bed.id, 'middle')
  await garden.adoptProbe(PROBE, 'Kestrel', FIRST)
  const st = {
    name: 'st',
    senses: 'temp.soil',
    unit: 'Cel',
    depthM: null,
    low: null,
    high: null,
    resolution: null,
    from: null,
    described: true,
  } as const
  await garden.hear([{ id: PROBE, at: FIRST, channels: [st] }], 50)
  await garden.placeProbe(PROBE, spot!.id, FIRST + 1.5 * DAY)
  const all = Array.from({ length: 3 * PER_DAY }, (_, seq) =>
    sampleReading({
      probe: PROBE,
      seq,
      at: FIRST + seq * MINUTE,
      values: { st: 15 + (seq % 7) / 8 },
    }),
  )
  await readings.append(batchOf({ readings: all }))
  await readings.settle()
  return bed.id
}

function spoilSecondDay(folder: string): void {
  const db = new DatabaseSync(join(folder, 'readings.db'))
  const { id, body } = db
    .prepare('SELECT id, body FROM block WHERE start = ?')
    .get(FIRST + DAY) as { id: number; body: Uint8Array }
  body[20] = body[20]! ^ 1
  db.prepare('UPDATE block SET body = ? WHERE id = ?').run(body, id)
  db.close()
}

test('a damaged day: pages show the rest with the gap, and a backup brings it back', async () => {
  let language: Language = 'en'
  await using host = await apiHost(NOW, () => language)
  const bed = await bedOfNovember(host)
  const range = `from=${FIRST}&to=${NOW}&points=5000`
  const series = async (): Promise<BedSeries> =>
    (await host.call('GET', `/api/beds/${bed}/series?quantity=temperature&${range}`))
      .body as BedSeries
  const before = await series()
  expect(before.damaged).toBeUndefined()
  const backup = await host.app.inject({ url: '/api/backup.tar' })
  expect((await host.call('GET', '/api/damaged')).body).toEqual([])

  spoilSecondDay(host.dataDir)
  const shown = await series()
  // In the bed it was from noon on.
  expect(shown.damaged).toEqual([
    { from: FIRST + 1.5 * DAY, to: FIRST + 2 * DAY, readings: PER_DAY, gone: false },
  ])
  expect(shown.time.length).toBeLessThan(before.time.length)
  expect(shown.time.length).toBeGreaterThan(0)
  const channel = (await host.call('GET', `/api/probes/${PROBE}/series?channel=st&${range}`))
    .body as ChannelSeries
  expect(channel.damaged).toEqual([
    { from: FIRST + DAY, to: FIRST + 2 * DAY, readings: PER_DAY, gone: false },
  ])
  const health = (await host.call('GET', '/api/health')).body as Health
  expect(health).toMatchObject({ counts: { readings: 2 * PER_DAY } })

  const [part, ...others] = (await host.call('GET', '/api/damaged')).body as DamagedPartView[]
  expect(others).toEqual([])
  expect(part).toMatchObject({
    what: 'readings',
    probe: PROBE,
    from: FIRST + DAY,
    to: FIRST + 2 * DAY,
    readings: PER_DAY,
    now: 0,
    settled: null,
  })
  const bytes = await host.app.inject({
    url: `/api/damaged/${part!.id}/bytes`,
  })
  expect(bytes.headers['content-disposition']).toBe(
    `attachment; filename="damaged-${part!.id}.bin"`,
  )
  expect(bytes.rawPayload).toHaveLength(part!.bytes)

  const bring = (payload: Uint8Array) =>
    host.app.inject({
      method: 'POST',
      url: '/api/damaged/bring-back',
      headers: { 'content-type': 'application/x-tar' },
      payload: Buffer.from(payload),
    })
  const refused = await bring(new Uint8Array(2048).fill(7))
  expect(refused.statusCode).toBe(400)
  expect(refused.json()).toMatchObject({
    detail: 'expected the archive of a backup (.tar), got something else',
  })
  const cut = await bring(backup.rawPayload.subarray(0, backup.rawPayload.length >> 1))
  expect(cut.statusCode).toBe(400)
  const changed = Uint8Array.from(backup.rawPayload)
  changed[changed.length >> 1] = changed[changed.length >> 1]! ^ 1
  expect((await bring(changed)).statusCode).toBe(400)
  // Why is said in the language of the garden, and nothing of where the archive was unpacked.
  const empty = Buffer.alloc(1024)
  for (const [spoken, notOne, broken, other, without] of [
    [
      'en',
      /^expected the archive of/,
      /^the archive broke off/,
      /^garden\.db was changed or damaged since/,
      /^expected a backup, found no backup\.json in it$/,
    ],
    [
      'de',
      /^erwartet: das Archiv einer Sicherung/,
      /^das Archiv brach /,
      /^garden\.db wurde verändert/,
      /^erwartet: eine Sicherung, backup\.json fehlt darin$/,
    ],
    [
      'es',
      /^se esperaba el archivo de una copia/,
      /^el archivo \.tar se interrumpe/,
      /^garden\.db se cambió/,
      /^se esperaba una copia de seguridad, falta backup\.json en ella$/,
    ],
  ] as const) {
    language = spoken
    for (const [sent, why] of [
      [new Uint8Array(2048).fill(7), notOne],
      [Buffer.from('no archive'), notOne],
      [backup.rawPayload.subarray(0, backup.rawPayload.length >> 1), broken],
      [changed, other],
      [empty, without],
    ] as const) {
      const { detail } = (await bring(sent)).json<{ detail: string }>()
      expect(detail).toMatch(why)
      expect(detail).not.toMatch(/archive\.tar|unpacked|bringing-back/)
    }
  }
  language = 'en'
  expect(await series()).toEqual(shown)

  // The first was made before the hub had an id.
  await host.deps.garden.setOwn('hub-id', 'another')
  const theirs = await host.app.inject({ url: '/api/backup.tar' })
  await host.deps.garden.setOwn('hub-id', 'this one')
  language = 'de'
  expect((await bring(theirs.rawPayload)).json()).toMatchObject({
    detail: 'erwartet: eine Sicherung dieses Hubs, bekommen: die eines anderen',
  })
  language = 'en'
  expect((await bring(theirs.rawPayload)).json()).toMatchObject({
    detail: 'expected a backup of this hub, got one of another',
  })

  const brought = await bring(backup.rawPayload)
  expect(brought.json<BroughtBackView>()).toEqual({
    madeAt: NOW,
    readings: PER_DAY,
    parts: [{ id: part!.id, found: PER_DAY, of: PER_DAY, why: null }],
  })
  expect(await series()).toEqual(before)
  expect((await host.call('GET', '/api/damaged')).body).toMatchObject([
    { bytes: 0, back: PER_DAY, settled: { at: NOW, how: 'back' } },
  ])
  // Nothing of it stays in the data folder.
  expect(readdirSync(host.dataDir).filter((name) => name.startsWith('bringing'))).toEqual([])
})

test('a damaged day that somebody can do without stays marked, and its bytes go', async () => {
  await using host = await apiHost(NOW)
  const bed = await bedOfNovember(host)
  spoilSecondDay(host.dataDir)
  const address = `/api/beds/${bed}/series?quantity=temperature&from=${FIRST}&to=${NOW}&points=500`
  await host.call('GET', address)
  const [part] = (await host.call('GET', '/api/damaged')).body as DamagedPartView[]
  expect((await host.call('POST', '/api/damaged/999/gone')).status).toBe(404)
  expect((await host.call('POST', `/api/damaged/${part!.id}/gone`)).body).toMatchObject([
    { id: part!.id, bytes: 0, settled: { at: NOW, how: 'gone' } },
  ])
  expect((await host.call('POST', `/api/damaged/${part!.id}/gone`)).status).toBe(404)
  expect((await host.call('GET', `/api/damaged/${part!.id}/bytes`)).status).toBe(404)
  expect(((await host.call('GET', address)).body as BedSeries).damaged).toMatchObject([
    { gone: true },
  ])
})

test('a graver trouble of the store is told beside damaged readings, not in their place', async () => {
  await using host = await apiHost(NOW)
  const hub = host.deps.hub()
  const damaged = () => Promise.resolve({ readings: 3, parts: 1, at: NOW })
  const storeOf = async (more: Partial<typeof hub.intake>) => {
    const intake = { ...hub.intake, damaged, ...more }
    const { store, counts } = await healthNow({ ...host.deps, hub: () => ({ ...hub, intake }) })
    expect(counts.damaged).toBe(3)
    return store
  }
  expect(await storeOf({})).toMatchObject({ about: 'damaged readings' })
  for (const graver of [
    { problem: 'the disk is full' },
    { settling: 'the disk is full' },
    { setAside: ['damaged-readings-1'] },
  ]) {
    const store = await storeOf(graver)
    expect(store.problem).toMatch(/the disk is full|damaged-readings-1/)
    expect(store.about).toBeUndefined()
  }
})
