import { afterAll, beforeAll, expect, test } from 'vitest'
import type { Problem } from '#hub/api/schemas/common.ts'
import { DAY } from '#hub/model/clock.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'

const NOW = 1_780_000_000_000
let host: ApiHost
let bed = 0
let plan = 0
beforeAll(async () => {
  host = await apiHost(NOW)
  const { garden } = host.deps
  bed = (
    await garden.addBed(
      {
        name: 'Fern bed',
        areaM2: 2,
        depthM: 0.2,
        texture: 'loam',
        crops: ['lettuce'],
        ownBand: null,
      },
      NOW,
    )
  ).id
  const stage = {
    dueAt: NOW,
    amountG: 300,
    change: { low: 0.2, typical: 0.35, high: 0.6 },
    fullFrom: NOW + 86 * DAY,
    fullBy: NOW + 365 * DAY,
    retestsAt: [NOW + 90 * DAY],
    entryId: null,
  }
  plan = (await garden.addPlan(
    {
      bedId: bed,
      material: 'ground-limestone',
      strength: 0.9,
      fromPh: 5.4,
      targetPh: 6.2,
      buffering: { low: 400, typical: 550, high: 740 },
      basis: 'By its texture.',
      stages: [stage],
    },
    NOW,
  ))!.id
})
afterAll(async () => {
  await host[Symbol.asyncDispose]()
})

async function refusals(
  method: 'GET' | 'POST' | 'PUT' | 'DELETE',
  url: string,
  body?: unknown,
): Promise<Record<string, string>> {
  const answer = await host.call(method, url, body)
  expect(answer.status, `${method} ${url}: ${JSON.stringify(answer.body)}`).toBe(400)
  expect(answer.type).toContain('application/problem+json')
  return Object.fromEntries(
    ((answer.body as Problem).errors ?? []).map(({ path, message }) => [path, message]),
  )
}

test('an aim that is no pH', async () => {
  for (const target of ['', 'six', '6,4', '1e1', '-6', '14', '2.9', '6.123', 'NaN']) {
    const { target: message } = await refusals('GET', `/api/beds/${bed}/decision?target=${target}`)
    expect(message, target).toMatch(
      /^expected (a pH such as 6\.4|pH 3 or more|pH 9 or less), got "/,
    )
  }
  expect(await refusals('GET', '/api/beds/x/decision')).toHaveProperty('id')
})

test('a plan of nothing known', async () => {
  for (const url of [`/api/beds/${bed}/plans/draft`]) {
    expect(await refusals('POST', url, { material: 'moon-dust' })).toEqual({
      material: "expected a material of the table, got 'moon-dust'",
    })
    expect(await refusals('POST', url, {})).toEqual({ material: 'expected text, got nothing' })
    expect(await refusals('POST', url, { material: 'sulfur', strength: 0, target: 'six' })).toEqual(
      {
        strength: 'expected a number above 0, got 0',
        target: 'expected a number, got "six"',
      },
    )
    expect(await refusals('POST', url, { material: 'sulfur', strength: 90 })).toEqual({
      strength: 'expected a number of at most 4, got 90',
    })
  }
  expect(await refusals('POST', `/api/beds/${bed}/plans`, { material: 4 })).toHaveProperty(
    'material',
  )
})

test('a portion without a day or an amount', async () => {
  const url = `/api/plans/${plan}/stages/1/done`
  expect(await refusals('POST', url, { at: 'today', amountG: -4 })).toEqual({
    at: 'expected a number, got "today"',
    amountG: 'expected a number above 0, got -4',
  })
  expect(await refusals('POST', url, { at: NOW })).toHaveProperty('amountG')
  expect(await refusals('POST', url, { at: NOW, amountG: 1, text: 7 })).toHaveProperty('text')
  expect(await refusals('POST', url, { at: NOW + 9 * DAY, amountG: 1 })).toEqual({
    at: 'expected a time that has come, got one 9 days ahead',
  })
  for (const stage of ['0', 'one', '1.5', '-1']) {
    expect(
      await refusals('POST', `/api/plans/${plan}/stages/${stage}/done`, { at: NOW, amountG: 1 }),
    ).toHaveProperty('stage')
  }
  expect(await refusals('POST', `/api/plans/${plan}/close`, { ending: 'bored' })).toEqual({
    ending: 'expected "reached" or "stopped" or "given up", got "bored"',
  })
  expect(await host.deps.garden.journal({}), 'nothing was written').toEqual([])
  expect((await host.deps.garden.plan(plan))!.closedAt).toBeNull()
})

test('a soil that cannot be', async () => {
  const url = `/api/beds/${bed}/soil`
  const soil = { bulkDensity: null, planting: null, hardWater: null }
  expect(await refusals('PUT', url, { ...soil, bulkDensity: 1.4 })).toEqual({
    bulkDensity: 'expected at least 100 kg/m3 (3.3 oz in a quart), got 1.4',
  })
  expect(await refusals('PUT', url, { ...soil, bulkDensity: 9000 })).toEqual({
    bulkDensity: 'expected at most 2000 kg/m3 (67 oz in a quart), got 9000',
  })
  expect(await refusals('PUT', url, { ...soil, planting: 'trees', hardWater: 'very' })).toEqual({
    planting: 'expected "bare" or "standing", got "trees"',
    hardWater: 'expected true or false, got "very"',
  })
  expect(await refusals('PUT', url, {})).toHaveProperty('bulkDensity')
})

test('tests of the soil that tell nothing', async () => {
  const url = `/api/beds/${bed}/soil-tests`
  const jar = (limeG: number, ph: number) => ({ limeG, ph })
  const jars = (...all: readonly { limeG: number; ph: number }[]) => ({
    kind: 'jar test',
    at: NOW,
    soilG: 500,
    jars: all,
  })
  const lime = {
    kind: 'lime requirement',
    at: NOW,
    limeGM2: 300,
    depthM: 0.15,
    fromPh: 5.5,
    toPh: 6.5,
  }
  expect(await refusals('POST', url, { kind: 'by taste', at: NOW })).toEqual({
    kind: expect.stringMatching(/^expected "lime requirement" or .*, got "by taste"$/),
  })
  expect(await refusals('POST', url, { ...lime, toPh: 5.5 })).toEqual({
    toPh: 'expected more than 5.5, the pH before the lime, got 5.5',
  })
  expect(await refusals('POST', url, { ...lime, limeGM2: 0, depthM: 15 })).toEqual({
    limeGM2: 'expected a number above 0, got 0',
    depthM: 'expected a number of at most 1.5, got 15',
  })
  expect(await refusals('POST', url, { ...lime, at: NOW + 3 * DAY })).toHaveProperty('at')
  expect(await refusals('POST', url, jars(jar(0, 5), jar(1, 6)))).toEqual({
    jars: expect.stringMatching(/^expected at least three jars, got /),
  })
  expect(await refusals('POST', url, jars(jar(0, 5), jar(1, 6), jar(1, 6.1)))).toEqual({
    jars: 'expected at least three different amounts, got 2',
  })
  expect(await refusals('POST', url, jars(jar(2, 5.2), jar(1, 5.9), jar(0, 6.5)))).toEqual({
    jars: 'expected a higher pH where there is more lime, got 5.2 with 2 g and 6.5 with 0 g',
  })
  expect(await refusals('POST', url, jars(jar(0, 5), jar(1, 26), jar(2, 7)))).toEqual({
    'jars.1.ph': 'expected pH 12 or less, got 26',
  })
  expect(
    await refusals('POST', url, { kind: 'exchangeable acidity', at: NOW, meqPer100G: -1, ph: 5 }),
  ).toHaveProperty('meqPer100G')
  expect(await refusals('POST', url, { kind: 'vinegar test', at: NOW, fizzes: 'a bit' })).toEqual({
    fizzes: 'expected true or false, got "a bit"',
  })
  expect((await host.call('GET', url)).body, 'nothing was written').toEqual([])
  expect(await refusals('DELETE', '/api/soil-tests/first')).toHaveProperty('id')
})

test('settings that no plan could go by', async () => {
  const url = '/api/planning-settings'
  const none = { season: null, currency: null, prices: [] }
  for (const [season, path, message] of [
    [{ from: '02-30', to: '10-15' }, 'season.from', 'expected a day of the calendar, got 02-30'],
    [{ from: '03-01', to: '06-31' }, 'season.to', 'expected a day of the calendar, got 06-31'],
    [
      { from: '1 March', to: '10-15' },
      'season.from',
      'expected month and day such as 04-15, got "1 March"',
    ],
    [{ from: '13-01', to: '10-15' }, 'season.from', expect.stringContaining('got "13-01"')],
  ] as const) {
    expect(await refusals('PUT', url, { ...none, season })).toEqual({ [path]: message })
  }
  const price = (material: string, perKg: number) => ({ material, perKg })
  expect(
    await refusals('PUT', url, { ...none, currency: 'EUR', prices: [price('moon-dust', 1)] }),
  ).toEqual({ 'prices.0.material': "expected a material whose dose is known, got 'moon-dust'" })
  expect(
    await refusals('PUT', url, {
      ...none,
      currency: 'EUR',
      prices: [price('sulfur', 1), price('sulfur', 2)],
    }),
  ).toEqual({ 'prices.1.material': "'sulfur' has a price already" })
  expect(
    await refusals('PUT', url, { ...none, currency: 'EUR', prices: [price('sulfur', 0)] }),
  ).toEqual({ 'prices.0.perKg': 'expected a number above 0, got 0' })
  expect(await refusals('PUT', url, { ...none, currency: 'euro' })).toEqual({
    currency: 'expected a currency of three capitals such as EUR, got "euro"',
  })
  expect(await refusals('PUT', url, { ...none, prices: [price('sulfur', 1)] })).toEqual({
    currency: 'prices need a currency',
  })
  expect((await host.call('GET', url)).body, 'nothing was settled').toEqual(none)
  // A leap day is a day, and a season may span the new year.
  const leap = { ...none, season: { from: '10-01', to: '02-29' } }
  expect(await host.call('PUT', url, leap)).toMatchObject({ status: 200, body: leap })
})

test('what is not there is said to be not there', async () => {
  for (const [method, url, body, detail] of [
    ['GET', '/api/beds/99/decision', undefined, 'no such bed'],
    ['POST', '/api/beds/99/plans/draft', { material: 'sulfur' }, 'no such bed'],
    ['POST', '/api/plans/99/stages/1/done', { at: NOW, amountG: 1 }, 'no such plan'],
    ['POST', `/api/plans/${plan}/stages/7/done`, { at: NOW, amountG: 1 }, 'no such portion'],
    ['POST', '/api/plans/99/close', { ending: 'given up' }, 'no such plan'],
    ['DELETE', '/api/soil-tests/99', undefined, 'no such test of the soil'],
    ['DELETE', '/api/journal/99/photo', undefined, 'no such photo'],
    ['GET', '/api/beds/99/photos', undefined, 'no such bed'],
  ] as const) {
    const answer = await host.call(method, url, body)
    expect(answer.status, url).toBe(404)
    expect((answer.body as Problem).detail, url).toContain(detail)
  }
})
