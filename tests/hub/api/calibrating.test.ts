import { afterEach, beforeEach, expect, test } from 'vitest'
import type { CalibrationEffectView, SettlingView } from '#hub/api/schemas/calibrating.ts'
import type { Entry } from '#hub/api/schemas/journal.ts'
import type { HandResultView, MeasuringPlan } from '#hub/api/schemas/measuring.ts'
import type { CalibrationView, ProbeView } from '#hub/api/schemas/probe.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'

const NOW = Date.UTC(2026, 5, 10, 12, 40)
let host: ApiHost
let bedId = 0
let seq = 0

/** Readings of the probe at these times, epoch ms. */
async function read(rows: readonly (readonly [at: number, phmv: number])[]): Promise<void> {
  await host.deps.readings.append({
    readings: rows.map(([at, phmv]) => ({
      probe: 'reed4',
      boot: 1,
      seq: seq++,
      uptimeS: seq,
      at,
      placedBy: 'arrival',
      arrivedAt: at,
      deviceAt: null,
      flags: 0,
      values: [
        { channel: 'phmv', value: phmv },
        { channel: 'st', value: 25 },
      ],
    })),
    anchors: [],
    marks: [],
    quarantined: [],
  })
  await host.deps.readings.settle()
}
beforeEach(async () => {
  host = await apiHost(NOW)
  seq = 0
  const made = await host.call('POST', '/api/beds', {
    name: 'Reed bed',
    areaM2: 2,
    depthM: 0.3,
    texture: 'loam',
    crops: [],
    ownBand: null,
  })
  bedId = (made.body as { id: number }).id
  await host.deps.garden.adoptProbe('reed4', 'reed4', NOW - 40 * DAY)
  const described = { low: null, high: null, resolution: null, depthM: null, from: null }
  await host.deps.garden.hear(
    [
      {
        id: 'reed4',
        at: NOW,
        channels: [
          { name: 'phmv', senses: 'ph.emf', unit: 'mV', described: true, ...described },
          { name: 'st', senses: 'temp.soil', unit: 'Cel', described: true, ...described },
        ],
      },
    ],
    5,
  )
})
afterEach(async () => {
  await host[Symbol.asyncDispose]()
})

const form = (
  points: readonly (readonly [ph: number, emfMv: number])[],
  change: Readonly<Record<string, unknown>> = {},
) => ({
  kind: 'electrode',
  channel: 'phmv',
  at: NOW,
  points: points.map(([ph, emfMv]) => ({ ph, emfMv })),
  temperatureC: 25,
  ...change,
})

test('three buffers of one named set are stored, shown and corrected; a fourth is refused', async () => {
  const three = form(
    [
      [7, 2],
      [4, 178],
      [10.01, -175],
    ],
    { bufferSet: 'technical' },
  )
  const stored = await host.call('POST', '/api/probes/reed4/calibrations', three)
  expect(stored.status).toBe(201)
  const { id, points, bufferSet } = stored.body as CalibrationView
  expect(points).toEqual(three.points)
  expect(bufferSet).toBe('technical')
  const two = form([
    [7, 2],
    [4, 178],
  ])
  expect((await host.call('PUT', `/api/calibrations/${id}`, two)).status).toBe(200)
  const probe = (await host.call('GET', '/api/probes/reed4')).body as ProbeView
  expect(probe.calibrations[0]).toMatchObject({ points: two.points, bufferSet: null })
  const four = form([
    [7, 2],
    [4, 178],
    [10.01, -175],
    [9.18, -128],
  ])
  expect((await host.call('POST', '/api/probes/reed4/calibrations', four)).status).toBe(400)
})

test('buffers of two sets never meet: 6.865 is no buffer of the ready-made ones', async () => {
  const mixed = form(
    [
      [6.865, 2],
      [4, 178],
    ],
    { bufferSet: 'technical' },
  )
  for (const path of ['calibrations/check', 'calibrations', 'calibrations/effect']) {
    const answer = await host.call('POST', `/api/probes/reed4/${path}`, mixed)
    expect(answer.status, path).toBe(400)
    expect(JSON.stringify(answer.body)).toMatch(/points\.0\.ph.*two sets do not mix/)
  }
  const proper = {
    ...mixed,
    bufferSet: 'iupac_2002',
    points: [mixed.points[0], { ph: 4.005, emfMv: 178 }],
  }
  expect((await host.call('POST', '/api/probes/reed4/calibrations/check', proper)).status).toBe(200)
})

test('settling sees only what came since the probe stands there', async () => {
  await read([
    [NOW - 3 * MINUTE, 40],
    [NOW - 50_000, 10],
    [NOW - 30_000, 10.4],
    [NOW - 10_000, 10.2],
  ])
  const ask = async (since: number): Promise<SettlingView> => {
    const answer = await host.call('GET', `/api/probes/reed4/settling?channel=phmv&since=${since}`)
    expect(answer.status).toBe(200)
    return answer.body as SettlingView
  }
  const settled = await ask(NOW - MINUTE)
  expect(settled).toMatchObject({
    state: 'settled',
    readings: 3,
    at: NOW - 10_000,
    warmth: null,
  })
  expect(settled.value).toBeCloseTo(10.2, 6)
  const warm = async (celsius: number): Promise<string | null> =>
    (
      (
        await host.call(
          'GET',
          `/api/probes/reed4/settling?channel=phmv&since=${NOW - MINUTE}&temperature=${celsius}`,
        )
      ).body as SettlingView
    ).warmth
  // EPA 9045: within 2 degrees. The thermometer shows 25.
  expect(await warm(23)).toBeNull()
  expect(await warm(22.9)).toMatch(/shows 25 °C.*entered with 22\.9 °C/)
  expect(await ask(NOW - 20_000)).toMatchObject({ state: 'too few' })
  expect(await ask(NOW - 5000)).toMatchObject({ state: 'nothing', value: null })
  const wrong = await host.call('GET', '/api/probes/reed4/settling?channel=st&since=0')
  expect(wrong.status).toBe(400)
})

test('the effect looks at the soil before the buffers, and stores nothing', async () => {
  const soil = Array.from({ length: 30 }, (_, i) => [NOW - (30 - i) * HOUR, 0] as const)
  await read([...soil, [NOW - 10 * MINUTE, 0], [NOW - MINUTE, 177]])
  const shifted = form([
    [7, 29.58],
    [4, 29.58 + 3 * 59.16],
  ])
  const url = `/api/probes/reed4/calibrations/effect?until=${NOW - 5 * MINUTE}`
  const effect = (await host.call('POST', url, shifted)).body as CalibrationEffectView
  expect(effect.present.now).toBeCloseTo(7, 2)
  expect(effect.present.then).toBeCloseTo(7.5, 2)
  expect(effect.middle.then).toBeCloseTo(7.5, 2)
  expect(effect.hoursChanged).toBe(0)
  const dated = (await host.call('POST', url, { ...shifted, at: NOW - 6 * HOUR }))
    .body as CalibrationEffectView
  expect(dated.hoursChanged).toBe(6)
  const probe = (await host.call('GET', '/api/probes/reed4')).body as ProbeView
  expect(probe.calibrations).toEqual([])
})

test('electrode health is there for each electrode, unknown probes are said to be so', async () => {
  await read([[NOW, 0]])
  const health = await host.call('GET', '/api/probes/reed4/electrode')
  expect(health.body).toMatchObject([{ channel: 'phmv', due: true, dueAt: null, rows: [] }])
  expect((await host.call('GET', '/api/probes/nobody/electrode')).status).toBe(404)
})

test('weighing does the arithmetic and asks about what cannot be', async () => {
  const soil = { tinG: 50, wetG: 170, dryG: 150, bulkDensity: 1350 }
  const answer = await host.call('POST', '/api/water-by-weight', soil)
  expect(answer.body).toMatchObject({ sentence: expect.stringContaining('27.0 % of water') })
  const wrong = await host.call('POST', '/api/water-by-weight', { ...soil, wetG: 100 })
  expect(wrong.status).toBe(400)
  expect(JSON.stringify(wrong.body)).toMatch(/wetG.*at least the dry weight/)
})

test('a bed is measured by hand: twelve spots wanted, three give 5.50, stored as one sample', async () => {
  const plan = (await host.call('GET', `/api/beds/${bedId}/measuring`)).body as MeasuringPlan
  expect(plan).toMatchObject({ wanted: 0.2, spots: 12 })
  const values = [5.2, 5.4, 5.9]
  const checked = await host.call('POST', `/api/beds/${bedId}/measuring/check`, {
    values,
    wanted: 0.2,
  })
  const { sentence: _, source: __, ...result } = checked.body as HandResultView
  expect(result).toMatchObject({ n: 3, mean: 5.5 })
  const session = { at: NOW, method: 'slurry CaCl2', values, wanted: 0.2, text: 'dry' }
  const stored = await host.call('POST', `/api/beds/${bedId}/measuring`, session)
  expect(stored.status).toBe(201)
  const journal = (await host.call('GET', `/api/beds/${bedId}/journal`)).body as Entry[]
  expect(journal).toMatchObject([
    {
      kind: 'sample',
      ph: 5.5,
      method: 'slurry CaCl2',
      text: 'Mean of 3 spots: 5.2, 5.4, 5.9, standard error 0.21. dry',
    },
  ])
})

test.each([
  ['no values', { values: [] }],
  ['a value beyond the scale', { values: [15] }],
  ['a wish nobody can fulfil', { wanted: 0 }],
])('measuring refuses %s', async (_, change) => {
  const body = { values: [6], wanted: 0.2, ...change }
  expect((await host.call('POST', `/api/beds/${bedId}/measuring/check`, body)).status).toBe(400)
  expect((await host.call('GET', `/api/beds/${bedId}/measuring?wanted=x`)).status).toBeGreaterThan(
    399,
  )
  expect(
    (await host.call('POST', '/api/beds/99/measuring/check', { values: [6], wanted: 0.2 })).status,
  ).toBe(404)
})
