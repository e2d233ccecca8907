import { afterEach, expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import type { Language } from '#hub/model/language.ts'
import type { Units } from '#hub/model/manner.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import {
  DECIDED_AT,
  goneThrough,
  plantPlannedGarden,
  readPlannedGarden,
} from '../../support/planned-garden.ts'
import { metricIn } from '../../support/unsaid.ts'
import { until } from '../../support/until.ts'
import { appendAll, FIRST, gardenReadings, plantGarden } from '../../support/watched-garden.ts'

let host: ApiHost
afterEach(async () => {
  await host[Symbol.asyncDispose]()
})

const speak = async (now: number, language: Language): Promise<ApiHost> => {
  host = await apiHost(
    now,
    () => language,
    () => 'us',
  )
  return host
}

/** Every address must answer, and tell no metric amount. */
async function expectUs(...urls: readonly string[]): Promise<void> {
  for (const url of urls) {
    const { status, body } = await host.call('GET', url)
    expect(status, url).toBe(200)
    expect(metricIn(body), url).toEqual([])
  }
}

test.each(['en', 'de', 'es'] as const)('plans are told in US units in %s', async (language) => {
  await speak(DECIDED_AT, language)
  const { sour, fine } = await plantPlannedGarden(host.deps)
  await readPlannedGarden(host.deps)
  await goneThrough(host.deps, [sour, fine])
  const bed = `/api/beds/${sour}`
  await expectUs('/api/beds', bed, `${bed}/decision`, `${bed}/decision?target=5`)
  for (const material of ['ground-limestone', 'hydrated-lime', 'wood-ash', 'sulfur']) {
    const draft = await host.call('POST', `${bed}/plans/draft`, { material })
    expect(metricIn(draft.body), material).toEqual([])
  }
  await host.call('PUT', `${bed}/soil`, {
    bulkDensity: 900,
    planting: 'standing',
    hardWater: true,
  })
  for (const found of [
    { kind: 'vinegar test', fizzes: true },
    { kind: 'lime requirement', fromPh: 5.3, toPh: 6.5, limeGM2: 400, depthM: 0.15 },
    { kind: 'exchangeable acidity', ph: 5.2, meqPer100G: 1.5 },
  ]) {
    await host.call('POST', `${bed}/soil-tests`, { at: DECIDED_AT - DAY, text: '', ...found })
  }
  await expectUs(`${bed}/decision`, `/api/beds/${fine}/decision?target=6`, `${bed}/soil-tests`)
  const made = await host.call('POST', `${bed}/plans`, { material: 'ground-limestone' })
  expect(metricIn(made.body)).toEqual([])
  await expectUs(`${bed}/findings`, '/api/plans', `${bed}/plans`, '/api/review', '/api/ahead')
  const calendar = await host.app.inject({ method: 'GET', url: '/api/calendar.ics' })
  const lines = calendar.body.replaceAll(/\r\n /g, '')
  expect(lines).toMatch(/\d (oz|lb) /)
  expect(metricIn({ words: lines })).toEqual([])
})

test('what a kept plan rests on is told in the language and units the garden has now', async () => {
  let language: Language = 'en'
  let units: Units = 'metric'
  host = await apiHost(
    DECIDED_AT,
    () => language,
    () => units,
  )
  const { sour, fine } = await plantPlannedGarden(host.deps)
  await readPlannedGarden(host.deps)
  await goneThrough(host.deps, [sour, fine])
  const bed = `/api/beds/${sour}`
  const made = await host.call('POST', `${bed}/plans`, { material: 'ground-limestone' })
  expect(made.body).toMatchObject({ basis: expect.stringContaining('of pure lime a square metre') })
  const basis = async (): Promise<string> =>
    ((await host.call('GET', `${bed}/plans`)).body as { basis: string }[])[0]!.basis
  language = 'de'
  units = 'us'
  expect(await basis()).toMatch(/lb reiner Kalk je 100 Quadratfuß/)
  units = 'metric'
  expect(await basis()).toMatch(/g reiner Kalk je Quadratmeter/)
  language = 'es'
  units = 'us'
  expect(await basis()).toMatch(/por cada 100 pies cuadrados/)
}, 60_000)

test('what a garden found out is told in US units', async () => {
  const days = 22
  await speak(FIRST + days * DAY, 'en')
  const beds = (await plantGarden(host.deps)) as [number, number]
  await appendAll(host.deps, gardenReadings(days))
  host.evaluation.touch(beds)
  const known = (id: number): number => host.evaluation.latest(id)?.study?.days.bed.day.length ?? 0
  await until('studied', () => beds.every((id) => known(id) >= days - 2), 60_000)
  const probe = (await host.deps.garden.probes())[0]!.id
  await expectUs(
    ...beds.flatMap((id) => [
      `/api/beds/${id}`,
      `/api/beds/${id}/findings`,
      `/api/beds/${id}/quality`,
      `/api/beds/${id}/decision`,
      `/api/beds/${id}/measuring`,
      `/api/beds/${id}/report?from=${FIRST}&to=${FIRST + days * DAY}`,
    ]),
    `/api/probes/${probe}`,
    `/api/probes/${probe}/electrode`,
    '/api/review',
    '/api/alarms',
  )
}, 120_000)
