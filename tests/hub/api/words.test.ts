import { afterEach, beforeAll, expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import type { Language } from '#hub/model/language.ts'
import type { Units } from '#hub/model/manner.ts'
import { withCatalogue } from '#hub/words/catalogue.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import {
  DECIDED_AT,
  goneThrough,
  plantPlannedGarden,
  readPlannedGarden,
} from '../../support/planned-garden.ts'
import { MARKING, metricIn, unsaid } from '../../support/unsaid.ts'
import { until } from '../../support/until.ts'
import { appendAll, FIRST, gardenReadings, plantGarden } from '../../support/watched-garden.ts'

let host: ApiHost
beforeAll(() => withCatalogue('de', MARKING))
afterEach(async () => {
  await host[Symbol.asyncDispose]()
})

async function names(): Promise<string[]> {
  const { garden } = host.deps
  const all = [await garden.beds(), await garden.spots(), await garden.trials()] as const
  return [
    ...all[0].map(({ name }) => name),
    ...all[1].map(({ name }) => name),
    ...all[2].map(({ claim }) => claim),
    ...(await garden.probes()).map(({ id }) => id),
  ]
}

/** Every address must answer, and say nothing past the catalogue. */
async function expectSaid(...urls: readonly string[]): Promise<void> {
  const known = await names()
  for (const url of urls) {
    const { status, body } = await host.call('GET', url)
    expect(status, url).toBe(200)
    expect(unsaid(body, known), url).toEqual([])
  }
}

test('what a garden says of its plans is in the catalogue, every word', async () => {
  host = await apiHost(DECIDED_AT, () => 'de')
  const { sour, fine } = await plantPlannedGarden(host.deps)
  await readPlannedGarden(host.deps)
  await goneThrough(host.deps, [sour, fine])
  const bed = `/api/beds/${sour}`
  await expectSaid(
    '/api/beds',
    bed,
    `/api/beds/${fine}`,
    `${bed}/decision`,
    `${bed}/decision?target=5`,
  )
  for (const material of ['ground-limestone', 'hydrated-lime', 'wood-ash', 'sulfur']) {
    const draft = await host.call('POST', `${bed}/plans/draft`, { material })
    expect(unsaid(draft.body, await names()), material).toEqual([])
  }
  const soil = { bulkDensity: 900, planting: 'standing', hardWater: true }
  await host.call('PUT', `${bed}/soil`, soil)
  for (const test of [
    { kind: 'vinegar test', fizzes: true },
    { kind: 'lime requirement', fromPh: 5.3, toPh: 6.5, limeGM2: 400, depthM: 0.15 },
  ]) {
    await host.call('POST', `${bed}/soil-tests`, { at: DECIDED_AT - DAY, text: '', ...test })
  }
  await expectSaid(`${bed}/decision`, `/api/beds/${fine}/decision?target=6`)
  const made = await host.call('POST', `${bed}/plans`, { material: 'ground-limestone' })
  expect(unsaid(made.body, await names())).toEqual([])
  await expectSaid(`${bed}/findings`, '/api/plans', `${bed}/plans`, '/api/review', `${bed}/quality`)
}, 120_000)

test('what a garden found out is in the catalogue, every word', async () => {
  const days = 22
  host = await apiHost(FIRST + days * DAY, () => 'de')
  const [fern, moss] = (await plantGarden(host.deps)) as [number, number]
  await appendAll(host.deps, gardenReadings(days))
  host.evaluation.touch([fern, moss])
  await until(
    'studied',
    () =>
      [fern, moss].every(
        (id) => (host.evaluation.latest(id)?.study?.days.bed.day.length ?? 0) >= days - 2,
      ),
    60_000,
  )
  const probe = (await host.deps.garden.probes())[0]!.id
  await expectSaid(
    ...[fern, moss].flatMap((id) => [
      `/api/beds/${id}`,
      `/api/beds/${id}/findings`,
      `/api/beds/${id}/quality`,
      `/api/beds/${id}/decision`,
      `/api/beds/${id}/measuring`,
      `/api/beds/${id}/report?from=${FIRST}&to=${FIRST + days * DAY}`,
      `/api/beds/${id}/soil-tests`,
      `/api/beds/${id}/measuring?halfWidth=0.1`,
    ]),
    '/api/probes',
    `/api/probes/${probe}`,
    `/api/probes/${probe}/electrode`,
    '/api/review',
    '/api/alarms',
    '/api/ahead',
    '/api/losses',
    '/api/crops',
    '/api/buffers',
    '/api/trials',
  )
}, 120_000)

test('calibrations, soil that was weighed, a trial and a file that is looked at are told in the catalogue', async () => {
  const days = 22
  const now = FIRST + days * DAY
  host = await apiHost(now, () => 'de')
  const [fern, moss] = (await plantGarden(host.deps)) as [number, number]
  await appendAll(host.deps, gardenReadings(days))
  const probe = 'reed4'
  const known = [...(await names()), 'ash raises', probe, 'phmv']
  const tell = async (url: string, body: unknown): Promise<void> => {
    const answer = await host.call('POST', url, body)
    expect(unsaid(answer.body, known), `${url} ${answer.status}`).toEqual([])
  }
  const channel = {
    name: 'phmv',
    senses: 'ph.emf',
    unit: 'mV',
    low: null,
    high: null,
    resolution: null,
    depthM: null,
    from: null,
    described: true,
  } as const
  await host.deps.garden.hear([{ id: probe, at: FIRST, channels: [channel] }], 20)
  await host.deps.garden.adoptProbe(probe, probe, FIRST)
  for (const points of [
    [4, 178, 7, 2],
    [4, 178, 4, 178],
    [4, -178, 7, 2],
    [4, 100, 7, 2],
    [6.9, 10, 7, 2],
    [4, 178, 7, 2, 10, -175],
    [4, 178, 7, 40, 10, -175],
  ]) {
    const pairs = points.flatMap((ph, i) => (i % 2 === 0 ? [{ ph, emfMv: points[i + 1]! }] : []))
    const form = {
      kind: 'electrode',
      channel: 'phmv',
      at: now - DAY,
      temperatureC: 25,
      points: pairs,
    }
    await tell(`/api/probes/${probe}/calibrations/check`, form)
    await tell(`/api/probes/${probe}/calibrations/effect`, form)
  }
  const soil = { tinG: 20, wetG: 150, dryG: 120, volumeCm3: 100, bulkDensity: null }
  for (const change of [{}, { wetG: 100 }, { dryG: 10 }, { volumeCm3: null }, { volumeCm3: 5 }]) {
    await tell('/api/water-by-weight', { ...soil, ...change })
  }
  const trial = {
    claim: 'ash raises',
    material: 'wood ash',
    direction: 'raises',
    leastEffect: 0.2,
    treated: [fern],
    untreated: [moss],
    startsAt: now,
    days: 120,
  }
  await tell('/api/trials/plan', trial)
  await tell('/api/trials', trial)
  await tell('/api/trials', { ...trial, untreated: [fern], days: 1, leastEffect: 9 })
  await tell(`/api/beds/${fern}/measuring/check`, { values: [5.2, 5.4, 5.9], wanted: 0.2 })
  await tell(`/api/beds/${fern}/journal`, { at: now + 9 * DAY, kind: 'sample', text: '' })
  await tell(`/api/beds/${fern}/spots`, { name: '' })
  await expectSaid('/api/trials', '/api/ahead', `/api/beds/${fern}/measuring`)
}, 120_000)

test('what was said in one language is said anew in the next, open alarms too', async () => {
  const days = 22
  let language: Language = 'en'
  host = await apiHost(FIRST + days * DAY, () => language)
  const [fern] = (await plantGarden(host.deps)) as [number, number]
  await appendAll(host.deps, gardenReadings(days))
  const gone = (): boolean =>
    (host.evaluation.latest(fern)?.study?.days.bed.day.length ?? 0) >= days - 2
  host.evaluation.touch([fern])
  await until('studied', gone, 60_000)
  const open = async () =>
    ((await host.call('GET', '/api/alarms?open=true')).body as { sentence: string }[]).map(
      ({ sentence }) => sentence,
    )
  expect((await open()).length).toBeGreaterThan(0)
  expect(unsaid({ reason: await open() }, await names()).length).toBeGreaterThan(0)

  language = 'de'
  host.evaluation.sayAnew()
  const known = await names()
  const bed = async () => ({
    ...((await host.call('GET', `/api/beds/${fern}`)).body as object),
    ...((await host.call('GET', `/api/beds/${fern}/findings`)).body as object),
    words: await open(),
  })
  await until('said anew', async () => unsaid(await bed(), known).length === 0, 60_000)
  expect(unsaid(await bed(), known)).toEqual([])
}, 120_000)

test('alarms that are over are told in the next language and units too, with what happened to them', async () => {
  const days = 22
  let language: Language = 'en'
  let units: Units = 'metric'
  host = await apiHost(
    FIRST + days * DAY,
    () => language,
    () => units,
  )
  const [fern] = (await plantGarden(host.deps)) as [number, number]
  await appendAll(host.deps, gardenReadings(days))
  host.evaluation.touch([fern])
  const { garden } = host.deps
  await until('raised', async () => (await garden.openAlarms()).length > 0, 60_000)
  // Nothing is left open: some are ended by people, the others with their beds.
  for (const { id } of await garden.openAlarms()) await host.evaluation.acknowledge(id)
  const beds = await garden.beds()
  for (const { id } of beds) await host.call('DELETE', `/api/beds/${id}`)
  host.evaluation.touch()
  await until('over', async () => (await garden.openAlarms()).length === 0, 60_000)
  const kept = await garden.alarms(100)
  expect(kept.length).toBeGreaterThan(0)

  const names = [
    ...beds.map(({ name }) => name),
    ...(await garden.spots()).map(({ name }) => name),
    ...(await garden.probes()).map(({ id }) => id),
  ]
  for (const next of ['us', 'metric'] as const) {
    language = 'de'
    units = next
    const past = await host.call('GET', '/api/alarms')
    expect(past.body).toHaveLength(kept.length)
    expect(unsaid(past.body, names)).toEqual([])
    if (next === 'us') expect(metricIn(past.body)).toEqual([])
    for (const { id } of kept) {
      const { body } = await host.call('GET', `/api/alarms/${id}`)
      expect(unsaid(body, names)).toEqual([])
    }
    language = 'en'
    const feed = (await host.app.inject({ method: 'GET', url: '/api/alarms.atom' })).body
    for (const { sentence } of past.body as { sentence: string }[]) {
      expect(feed).not.toContain(sentence)
    }
    const now = (await host.call('GET', '/api/alarms')).body as { sentence: string }[]
    for (const { sentence } of now) expect(feed).toContain(sentence)
  }
}, 120_000)

test.each([
  [
    'POST',
    '/api/beds',
    { name: '', areaM2: 0, depthM: 9, texture: 'loam', crops: [], ownBand: null },
  ],
  ['POST', '/api/beds', { name: 1, areaM2: 'x', depthM: -1, texture: 'mud', crops: 3, ownBand: 1 }],
  ['GET', '/api/beds/999', undefined],
  ['GET', '/api/nothing', undefined],
  ['GET', '/api/beds/x', undefined],
] as const)('a refusal of %s %s is in the catalogue', async (method, url, body) => {
  host = await apiHost(DECIDED_AT, () => 'de')
  const answer = await host.call(method, url, body)
  expect(answer.status).toBeGreaterThanOrEqual(400)
  expect(unsaid(answer.body, ['"x"', '"mud"', 'loam'])).toEqual([])
})
