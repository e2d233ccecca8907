import { afterEach, beforeEach, expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import { bedQuality, findings } from '#hub/api/schemas/findings.ts'
import { trial, trialPlan } from '#hub/api/schemas/trial.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'
import { until } from '../../support/until.ts'
import { appendAll, FIRST, gardenReadings, plantGarden } from '../../support/watched-garden.ts'

const DAYS = 22
const NOW = FIRST + DAYS * DAY

let host: ApiHost
let fern = 0
let moss = 0
beforeEach(async () => {
  host = await apiHost(NOW)
  ;[fern, moss] = (await plantGarden(host.deps)) as [number, number]
})
afterEach(async () => {
  await host[Symbol.asyncDispose]()
})

/** Until the slow questions of every bed were gone through. */
async function studied(): Promise<void> {
  host.evaluation.touch([fern, moss])
  await until(
    'studied',
    () =>
      [fern, moss].every(
        (id) => (host.evaluation.latest(id)?.study?.days.bed.day.length ?? 0) >= DAYS - 2,
      ),
    20_000,
  )
}

test('what was found out is told with its spots, causes and reasons, and never a NaN', async () => {
  await appendAll(host.deps, gardenReadings(DAYS))
  await studied()
  const { status, body } = await host.call('GET', `/api/beds/${fern}/findings`)
  expect(status).toBe(200)
  const found = findings.parse(body)
  expect(found.learning).toBeNull()
  const event = found.events.find(({ cause }) => cause === 'treatment')!
  expect(event).toMatchObject({ form: 'step', withinPlan: false, state: 'open' })
  expect(event.spots.map(({ spot }) => spot)).toEqual(['fern 1', 'fern 2', 'fern 3'])
  expect(event.grounds.join(' ')).toContain('wood ash')
  expect(found.noise).toHaveLength(3)
  expect(found.trend.status).toBe('insufficient')
  expect(found.effects).toHaveLength(1)
  expect(found.water.state).not.toBe('unknown')
  expect(found.water.spots.map(({ spot }) => spot)).toContain('fern 2')
  expect(JSON.stringify(body)).not.toMatch(/NaN|undefined|Infinity/)

  const quality = bedQuality.parse(
    (await host.call('GET', `/api/beds/${fern}/quality?days=10`)).body,
  )
  expect(quality.probes.map(({ probe }) => probe)).toEqual(['fern1', 'fern2', 'fern3'])
  for (const probe of quality.probes) {
    expect(probe.pass + probe.suspect + probe.fail + probe.missing + probe.notEvaluated).toBe(
      probe.hours,
    )
    expect(probe.hours).toBeGreaterThan(200)
  }
}, 60_000)

test('an empty bed, a retired one and an unknown one are answered', async () => {
  const empty = findings.parse((await host.call('GET', `/api/beds/${moss}/findings`)).body)
  expect(empty.events).toEqual([])
  expect(empty.trend.status).toBe('insufficient')
  await host.call('DELETE', `/api/beds/${moss}`)
  const retired = await host.call('GET', `/api/beds/${moss}/findings`)
  expect(retired.status).toBe(200)
  expect(await host.call('GET', '/api/beds/999/findings')).toMatchObject({
    status: 404,
    type: expect.stringContaining('application/problem+json'),
  })
  expect((await host.call('GET', `/api/beds/${fern}/quality?days=0`)).status).toBe(400)
})

const claim = () => ({
  claim: 'Coffee grounds make a bed sour',
  direction: 'lowers',
  material: 'coffee grounds',
  leastEffect: 0.2,
  treated: [fern],
  untreated: [moss],
  startsAt: NOW,
  days: 120,
})

test('a trial is planned without being stored, then kept, given up once and removed', async () => {
  await appendAll(host.deps, gardenReadings(DAYS))
  await studied()
  const plan = await host.call('POST', '/api/trials/plan', claim())
  expect(plan.status).toBe(200)
  expect(trialPlan.parse(plan.body).sentence).not.toBe('')
  expect((await host.call('GET', '/api/trials')).body).toEqual([])

  const made = await host.call('POST', '/api/trials', claim())
  expect(made.status).toBe(201)
  const stored = trial.parse(made.body)
  expect(stored).toMatchObject({
    treated: [{ id: fern, name: 'fern' }],
    untreated: [{ id: moss, name: 'moss' }],
    endsAt: NOW + 120 * DAY,
    givenUpAt: null,
  })
  expect(['planned', 'too early', 'insufficient']).toContain(stored.result.verdict)
  expect((await host.call('GET', `/api/trials/${stored.id}`)).body).toEqual(made.body)
  const given = await host.call('POST', `/api/trials/${stored.id}/give-up`)
  expect(given.body).toMatchObject({ givenUpAt: NOW })
  expect((await host.call('POST', `/api/trials/${stored.id}/give-up`)).status).toBe(409)
  expect((await host.call('DELETE', `/api/trials/${stored.id}`)).status).toBe(204)
  expect((await host.call('GET', `/api/trials/${stored.id}`)).status).toBe(404)
}, 60_000)

test('a trial that cannot be is refused, with what was expected', async () => {
  const both = await host.call('POST', '/api/trials', { ...claim(), untreated: [fern] })
  expect(both.status).toBe(400)
  expect(JSON.stringify(both.body)).toContain('treated and untreated at once')
  const unknown = await host.call('POST', '/api/trials', { ...claim(), untreated: [999] })
  expect(unknown.status).toBe(400)
  expect(JSON.stringify(unknown.body)).toContain('there is no bed 999')
  expect((await host.call('POST', '/api/trials', { ...claim(), leastEffect: 0 })).status).toBe(400)
  expect((await host.call('GET', '/api/trials')).body).toEqual([])
})
