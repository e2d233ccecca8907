import { afterEach, beforeEach, expect, test } from 'vitest'
import type { Alarm as AlarmView, AlarmWithChanges } from '#hub/api/schemas/alarm.ts'
import type { Alarm } from '#hub/model/alarm.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { apiHost, type ApiHost } from '../../support/api-host.ts'

const NOW = 1_780_000_000_000

let host: ApiHost
let bedId = 0
beforeEach(async () => {
  host = await apiHost(NOW)
  const bed = await host.deps.garden.addBed(
    { name: 'Fern bed', areaM2: 2, depthM: 0.25, texture: 'loam', crops: [], ownBand: null },
    NOW - DAY,
  )
  bedId = bed.id
  // Probes that have said nothing yet: nothing new can be said of alarms about them, so they stay as they are.
  for (const [i, name] of ['north', 'south', 'east', 'west'].entries()) {
    const spot = await host.deps.garden.addSpot(bedId, name)
    await host.deps.garden.adoptProbe(`fern${i}`, '', NOW)
    await host.deps.garden.placeProbe(`fern${i}`, spot!.id, NOW)
  }
})
afterEach(async () => {
  await host[Symbol.asyncDispose]()
})

async function keep(...some: readonly Partial<Alarm>[]): Promise<readonly Alarm[]> {
  return host.deps.garden.saveAlarms(
    some.map((change, i) => ({
      alarm: {
        id: 0,
        bedId,
        kind: 'probe-check',
        subject: `fern${i}`,
        priority: 'low',
        state: 'unacknowledged',
        raisedAt: NOW - HOUR + i,
        acknowledgedAt: null,
        returnedAt: null,
        overSince: null,
        shelvedUntil: null,
        changedAt: NOW - HOUR + i,
        evidence: {
          from: null,
          to: 6.5,
          change: null,
          changeHalfWidth: null,
          since: null,
          spotsMoved: ['north'],
          spotsSteady: [],
          sureness: null,
          journalId: null,
          cause: null,
          causeSettled: null,
        },
        sentence: 'Fern bed: a flat line.',
        advice: 'Look at it.',
        ...change,
      },
      at: NOW - HOUR + i,
      what: 'raised',
      by: null,
      note: '',
    })),
  )
}
const post = (path: string, body?: unknown) => host.call('POST', `/api/alarms/${path}`, body)
const changesOf = async (id: number): Promise<AlarmWithChanges['changes']> =>
  ((await host.call('GET', `/api/alarms/${id}`)).body as AlarmWithChanges).changes

test('one alarm is told with everything that happened to it', async () => {
  const [alarm] = await keep({})
  host.setTime(NOW)
  await post(`${alarm!.id}/notes`, { note: '  looked at the plug ' })
  await post(`${alarm!.id}/acknowledge`, { note: 'will mend it' })
  expect(await changesOf(alarm!.id)).toMatchObject([
    { what: 'raised', at: NOW - HOUR },
    { what: 'noted', note: 'looked at the plug', at: NOW },
    { what: 'acknowledged', note: 'will mend it', state: 'acknowledged' },
  ])
  expect((await host.call('GET', '/api/alarms/99')).status).toBe(404)
})

test('all of a bed are acknowledged at once; what has returned is closed by it', async () => {
  const alarms = await keep(
    {},
    { state: 'returned', returnedAt: NOW - 1 },
    { state: 'acknowledged' },
  )
  const ids = alarms.map(({ id }) => id)
  const answer = await post('acknowledge', { ids: [...ids, ids[0], 999] })
  expect(answer.status).toBe(200)
  expect((answer.body as AlarmView[]).map(({ state }) => state)).toEqual([
    'acknowledged',
    'normal',
    'acknowledged',
  ])
  // The third was acknowledged before: nothing is kept of that.
  expect(await changesOf(ids[2]!)).toHaveLength(1)
  expect((await post('acknowledge', { ids: [] })).status).toBe(400)
})

test('shelved it keeps its state, and comes back by itself when its time is over', async () => {
  const [alarm] = await keep({ kind: 'harmful-shift', subject: '' })
  const until = NOW + 2 * HOUR
  const answer = await post(`${alarm!.id}/shelve`, { until, note: 'after the rain' })
  expect(answer.body).toMatchObject({ state: 'unacknowledged', shelvedUntil: until })
  host.setTime(until + 1)
  host.evaluation.touch()
  await expect
    .poll(async () => (await host.deps.garden.alarm(alarm!.id))!.shelvedUntil, { timeout: 20_000 })
    .toBeNull()
  expect((await changesOf(alarm!.id)).map(({ what, by }) => [what, by])).toContainEqual([
    'unshelved',
    null,
  ])
})

test('it can be taken from the shelf before', async () => {
  const [alarm] = await keep({})
  await post(`${alarm!.id}/shelve`, { until: NOW + DAY })
  expect((await post(`${alarm!.id}/unshelve`)).body).toMatchObject({ shelvedUntil: null })
  expect((await post(`${alarm!.id}/unshelve`)).status).toBe(200)
})

test.each([
  ['shelve', { until: NOW - 1 }, 'until'],
  ['shelve', { until: NOW + 400 * DAY }, 'until'],
  ['shelve', { until: 'tomorrow' }, 'until'],
  ['notes', { note: '   ' }, 'note'],
  ['notes', { note: 'x'.repeat(501) }, 'note'],
])('%s with %o is refused, naming the field', async (what, body, field) => {
  const [alarm] = await keep({})
  const answer = await post(`${alarm!.id}/${what}`, body)
  expect(answer.status).toBe(400)
  expect(answer.body).toMatchObject({ errors: [{ path: field }] })
  expect(await changesOf(alarm!.id)).toHaveLength(1)
})

test('what there is not cannot be dealt with', async () => {
  for (const [what, body] of [
    ['acknowledge', undefined],
    ['shelve', { until: NOW + HOUR }],
    ['unshelve', undefined],
    ['notes', { note: 'x' }],
  ] as const) {
    expect((await post(`77/${what}`, body)).status).toBe(404)
  }
})

test('the history is picked by kind, bed, time and whether it is over', async () => {
  await keep(
    { kind: 'dry', subject: '', state: 'normal', raisedAt: NOW - 9 * DAY },
    { kind: 'probe-check', state: 'normal', raisedAt: NOW - 2 * DAY },
    { kind: 'hub-trouble', subject: 'disk', bedId: null, state: 'normal', raisedAt: NOW - DAY },
    { kind: 'dry', subject: '', raisedAt: NOW - HOUR },
  )
  const kinds = async (query: string): Promise<string[]> =>
    ((await host.call('GET', `/api/alarms?${query}`)).body as AlarmView[]).map(({ kind }) => kind)
  expect(await kinds('over=true')).toEqual(['hub-trouble', 'probe-check', 'dry'])
  expect(await kinds('over=true&kind=dry')).toEqual(['dry'])
  expect(await kinds('over=true&bed=0')).toEqual(['hub-trouble'])
  expect(await kinds(`over=true&bed=${bedId}&from=${NOW - 3 * DAY}`)).toEqual(['probe-check'])
  expect(await kinds(`to=${NOW - DAY}`)).toEqual(['probe-check', 'dry'])
  expect(await kinds('open=true')).toEqual(['dry'])
  expect(await kinds('limit=1&over=true')).toEqual(['hub-trouble'])
})
