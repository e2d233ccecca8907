import { afterEach, beforeEach, expect, test } from 'vitest'
import { DAY, HOUR } from '#hub/model/clock.ts'
import type { NewMessage } from '#hub/model/route.ts'
import { freshRouteState } from '#hub/model/route-state.ts'
import { openStores, type Stores } from '#hub/store/open.ts'
import { anAlarm, aNewRoute } from '../../support/alarm-fixture.ts'
import { tempDir } from '../../support/temp-dir.ts'

const NOW = Date.UTC(2026, 4, 4, 11)
let folder: ReturnType<typeof tempDir>
let stores: Stores
beforeEach(async () => {
  folder = tempDir()
  stores = await openStores(folder.path, { zone: 'Europe/Lisbon' })
})
afterEach(async () => {
  await stores.close()
  folder[Symbol.dispose]()
})

const message = (uid: string, madeAt = NOW): NewMessage => ({
  uid,
  madeAt,
  held: 'digest',
  items: [{ alarm: anAlarm(), bed: 'Long bed', reasons: ['raised'], since: NOW }],
})
const raise = () =>
  stores.garden.saveAlarms([
    {
      alarm: anAlarm({ id: 0, bedId: null }),
      at: NOW,
      what: 'raised',
      by: null,
      note: '',
    },
  ])

test('a route begins with what happens from then on, and anew when it is switched on again', async () => {
  const { garden } = stores
  await raise()
  const { id } = await garden.addRoute(aNewRoute(), null, NOW)
  expect(await garden.routeState(id)).toEqual(freshRouteState(1))
  await garden.changeRoute(id, aNewRoute({ on: false }))
  await raise()
  expect(await garden.routeState(id)).toEqual(freshRouteState(1))
  await garden.changeRoute(id, aNewRoute())
  expect(await garden.routeState(id)).toEqual(freshRouteState(2))
  expect(await garden.routeState(99)).toBeNull()
})

test('everything of a route is kept, over a restart too; its secret is not among it', async () => {
  const route = aNewRoute({
    kinds: ['dry'],
    beds: [1],
    quiet: { from: '22:00', to: '07:00', letThrough: 'high' },
    escalate: { afterMin: 30, to: 2 },
    repeatMin: 60,
  })
  const { id } = await stores.garden.addRoute(route, 'the secret', NOW)
  await stores.garden.pauseRoute(id, NOW + HOUR)
  await stores.close()
  stores = await openStores(folder.path, { zone: 'Europe/Lisbon' })
  const [kept] = await stores.garden.routes()
  expect(kept).toEqual({ ...route, id, createdAt: NOW, pausedUntil: NOW + HOUR, hasSecret: true })
  expect(JSON.stringify(kept)).not.toContain('the secret')
  expect(await stores.garden.routeSecret(id)).toBe('the secret')
  // Left out it stays, null takes it away.
  expect((await stores.garden.changeRoute(id, route))?.hasSecret).toBe(true)
  expect((await stores.garden.changeRoute(id, route, null))?.hasSecret).toBe(false)
})

test('what a route remembers and its messages are stored together; an id that was used stores neither', async () => {
  const { garden } = stores
  const { id: routeId } = await garden.addRoute(aNewRoute(), null, NOW)
  const state = { ...freshRouteState(5), madeAt: [NOW] }
  await garden.saveRouteSteps([{ routeId, state, messages: [message('a'), message('b')] }])
  expect(await garden.routeState(routeId)).toEqual(state)
  const later = { ...state, cursor: 9 }
  await expect(
    garden.saveRouteSteps([{ routeId, state: later, messages: [message('c'), message('a')] }]),
  ).rejects.toThrow()
  expect(await garden.routeState(routeId)).toEqual(state)
  expect((await garden.openMessages()).map(({ uid }) => uid)).toEqual(['a', 'b'])
  // A route that went meanwhile is passed over.
  await garden.saveRouteSteps([{ routeId: 77, state, messages: [message('d')] }])
  expect((await garden.messages({ limit: 10 })).map(({ uid }) => uid)).toEqual(['b', 'a'])
})

test('how a message got on is kept', async () => {
  const { garden } = stores
  const { id: routeId } = await garden.addRoute(aNewRoute(), null, NOW)
  const state = freshRouteState(0)
  await garden.saveRouteSteps([{ routeId, state, messages: [message('a')] }])
  const [first] = await garden.openMessages()
  expect(first).toEqual({
    ...message('a'),
    ...{ id: 1, routeId, state: 'waiting', tries: 0, lastTryAt: null, nextTryAt: null },
    ...{ sentAt: null, answer: null, maybeSent: false },
  })
  const tried = {
    ...first!,
    ...({
      state: 'failed',
      tries: 2,
      lastTryAt: NOW,
      nextTryAt: NOW + 1,
      maybeSent: true,
    } as const),
    answer: 'no route to host',
  }
  await garden.saveMessage(tried)
  expect(await garden.openMessages()).toEqual([tried])
  await garden.saveMessage({ ...tried, state: 'sent', sentAt: NOW + 2 })
  expect(await garden.openMessages()).toEqual([])
})

test('finished messages are forgotten by age and by number; open ones never', async () => {
  const { garden } = stores
  const { id: routeId } = await garden.addRoute(aNewRoute(), null, NOW)
  const uids = ['old open', 'old', 'b', 'c', 'd']
  const messages = uids.map((uid) => message(uid, uid.startsWith('old') ? NOW - DAY : NOW))
  await garden.saveRouteSteps([{ routeId, state: freshRouteState(0), messages }])
  for (const one of (await garden.openMessages()).slice(1)) {
    await garden.saveMessage({ ...one, state: one.uid === 'c' ? 'given-up' : 'sent' })
  }
  const left = async () => (await garden.messages({ limit: 10 })).map(({ uid }) => uid).toReversed()
  await garden.tidyMessages(NOW - HOUR, 10)
  expect(await left()).toEqual(['old open', 'b', 'c', 'd'])
  await garden.tidyMessages(NOW - HOUR, 2)
  expect(await left()).toEqual(['old open', 'c', 'd'])
})

test('a route that is removed takes its messages along, and is escalated to no more', async () => {
  const { garden } = stores
  const first = await garden.addRoute(aNewRoute(), null, NOW)
  const escalate = { afterMin: 30, to: first.id }
  const second = await garden.addRoute(aNewRoute({ escalate }), null, NOW)
  const state = freshRouteState(0)
  await garden.saveRouteSteps([{ routeId: first.id, state, messages: [message('a')] }])
  expect(await garden.removeRoute(first.id)).toBe(true)
  expect(await garden.removeRoute(first.id)).toBe(false)
  expect(await garden.routes()).toEqual([{ ...second, escalate: null }])
  expect(await garden.messages({ limit: 10 })).toEqual([])
})

test('what the hub made for itself is kept', async () => {
  const { garden } = stores
  expect(await garden.own('hub-id')).toBeNull()
  await garden.setOwn('hub-id', 'one')
  await garden.setOwn('hub-id', 'two')
  expect(await garden.own('hub-id')).toBe('two')
})
