import fc from 'fast-check'
import { expect, test } from 'vitest'
import { planAll } from '#hub/delivery/plan/plan-all.ts'
import type { Planned } from '#hub/delivery/plan/plan-route.ts'
import { ALARM_KINDS, ALARM_PRIORITIES } from '#hub/model/alarm.ts'
import type { Alarm, AlarmChange, AlarmChangeKind } from '#hub/model/alarm.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { Route } from '#hub/model/route.ts'
import { freshRouteState, type RouteState } from '#hub/model/route-state.ts'
import { aChange, anAlarm, aRoute } from '../../../support/alarm-fixture.ts'

const ZONE = 'Europe/Lisbon'
/** Two days before summer time ends in Lisbon. */
const START = Date.parse('2026-10-23T10:00:00Z')
const RUNS = { numRuns: 150, seed: 20_261 }

interface Told extends Planned {
  readonly at: number
  readonly routeId: number
}

/** A past of alarms: each is raised, then goes through some of what can happen to one. */
const aPast = fc
  .array(
    fc.record({
      bedId: fc.option(fc.integer({ min: 1, max: 4 })),
      kind: fc.constantFrom(...ALARM_KINDS),
      priority: fc.constantFrom(...ALARM_PRIORITIES),
      raised: fc.integer({ min: 0, max: 3 * DAY }),
      then: fc.array(
        fc.record({
          after: fc.integer({ min: 1, max: 8 * HOUR }),
          what: fc.constantFrom<AlarmChangeKind>('changed', 'acknowledged', 'returned', 'noted'),
        }),
        { maxLength: 3 },
      ),
      shelved: fc.option(fc.integer({ min: 1, max: 2 * HOUR })),
    }),
    { minLength: 1, maxLength: 12 },
  )
  .map((episodes) => {
    const changes: Omit<AlarmChange, 'id'>[] = []
    for (const [i, episode] of episodes.entries()) {
      const { bedId, kind, priority } = episode
      let at = START + episode.raised
      let alarm = anAlarm({ id: i + 1, bedId, kind, priority, raisedAt: at, changedAt: at })
      const note = (what: AlarmChangeKind): void => void changes.push(aChange(0, at, what, alarm))
      note('raised')
      for (const { after, what } of episode.then) {
        if (alarm.state === 'normal') break
        at += after
        if (what === 'acknowledged' && alarm.acknowledgedAt === null) {
          const state = alarm.state === 'returned' ? 'normal' : 'acknowledged'
          alarm = { ...alarm, acknowledgedAt: at, state }
          note(what)
        } else if (what === 'returned' && alarm.returnedAt === null) {
          const state = alarm.acknowledgedAt === null ? 'returned' : 'normal'
          alarm = { ...alarm, returnedAt: at, state }
          note(what)
        } else if (what === 'changed' || what === 'noted') note(what)
      }
      if (episode.shelved !== null && alarm.state !== 'normal') {
        at += episode.shelved
        alarm = { ...alarm, shelvedUntil: at + DAY }
        note('shelved')
      }
    }
    return changes
      .toSorted((a, b) => a.at - b.at)
      .map((change, i): AlarmChange => ({ ...change, id: i + 1 }))
  })

const aTime = fc.integer({ min: 0, max: 47 }).map((half) => {
  const hour = String(Math.floor(half / 2)).padStart(2, '0')
  return `${hour}:${half % 2 === 0 ? '00' : '30'}`
})
const priority = fc.constantFrom(...ALARM_PRIORITIES)
const someRoute = fc
  .record({
    leastPriority: priority,
    tells: fc.constantFrom('raised', 'ended', 'all'),
    gatherMin: fc.constantFrom(0, 5, 60),
    digestAt: fc.option(aTime),
    atOnceFrom: priority,
    quiet: fc.option(
      fc
        .record({ from: aTime, to: aTime, letThrough: fc.option(priority) })
        .filter(({ from, to }) => from !== to),
    ),
    repeatMin: fc.option(fc.constantFrom(30, 240)),
    mostPerHour: fc.integer({ min: 1, max: 4 }),
  })
  .map((made) => aRoute(made as Partial<Route>))

/**
 * Lives through a past: plans when something happens and when there is something to plan, or only every so often
 * when the hub was away. What is remembered goes through JSON as in the store.
 */
function live(
  routes: readonly Route[],
  changes: readonly AlarmChange[],
  absence: readonly (readonly [from: number, to: number])[] = [],
): Told[] {
  const told: Told[] = []
  let states = new Map<number, RouteState>(routes.map(({ id }) => [id, freshRouteState(0)]))
  const away = (at: number): boolean => absence.some(([from, to]) => from <= at && at < to)
  const times = changes.map(({ at }) => at)
  const end = Math.max(...times, START) + 3 * DAY
  let now = START
  for (let steps = 0; now <= end; steps++) {
    if (steps > 5000) throw new Error('the planner does not come to rest')
    const known = changes.filter(({ at }) => at <= now)
    let nextAt = Number.POSITIVE_INFINITY
    const back = absence.find(([from, to]) => from <= now && now < to)?.[1]
    if (!away(now)) {
      const plans = planAll(routes, states, known, [], { now, zone: ZONE, bedNames: new Map() })
      states = new Map(
        [...plans].map(([id, { state }]) => [id, JSON.parse(JSON.stringify(state)) as RouteState]),
      )
      for (const [routeId, plan] of plans) {
        told.push(...plan.messages.map((message) => ({ ...message, at: now, routeId })))
        nextAt = Math.min(nextAt, plan.nextAt ?? Number.POSITIVE_INFINITY)
        expect(plan.nextAt ?? Number.POSITIVE_INFINITY).toBeGreaterThan(now)
      }
    }
    const news = times.find((at) => at > now) ?? Number.POSITIVE_INFINITY
    now = Math.min(nextAt, news, back ?? Number.POSITIVE_INFINITY, end + 1)
  }
  return told
}

/** Wall clock by Intl: a second reading, independent of the planner's. */
const clock = new Intl.DateTimeFormat('en-GB', {
  timeZone: ZONE,
  hour: '2-digit',
  minute: '2-digit',
})
function isQuiet({ quiet }: Route, at: number): boolean {
  if (quiet === null) return false
  const time = clock.format(at)
  const { from, to } = quiet
  return from < to ? from <= time && time < to : time >= from || time < to
}
const rank = (alarm: Alarm): number => ALARM_PRIORITIES.indexOf(alarm.priority)
const selected = (route: Route, alarm: Alarm): boolean =>
  rank(alarm) >= ALARM_PRIORITIES.indexOf(route.leastPriority)

test('nothing is told in quiet hours but what is let through, hub away or not', () => {
  fc.assert(
    fc.property(someRoute, aPast, fc.integer({ min: 0, max: 40 }), (route, past, hours) => {
      const gap = [START + hours * HOUR, START + (hours + 9) * HOUR] as const
      for (const { at, items } of [...live([route], past), ...live([route], past, [gap])]) {
        if (!isQuiet(route, at)) continue
        const through = route.quiet?.letThrough ?? null
        expect(through).not.toBeNull()
        for (const { alarm } of items) {
          expect(rank(alarm)).toBeGreaterThanOrEqual(ALARM_PRIORITIES.indexOf(through!))
        }
      }
    }),
    RUNS,
  )
})

test('every alarm that was raised and not shelved is told, its raising once', () => {
  fc.assert(
    fc.property(someRoute, aPast, fc.integer({ min: 0, max: 40 }), (route, past, hours) => {
      const gap = [START + hours * HOUR, START + (hours + 9) * HOUR] as const
      const shelved = new Set(past.filter((c) => c.what === 'shelved').map((c) => c.alarmId))
      for (const told of [live([route], past), live([route], past, [gap])]) {
        for (const { what, alarm } of past) {
          if (what !== 'raised' || !selected(route, alarm)) continue
          const raisings = told.filter(({ items }) =>
            items.some((item) => item.alarm.id === alarm.id && item.reasons.includes('raised')),
          )
          if (!shelved.has(alarm.id)) expect(raisings).toHaveLength(1)
          else expect(raisings.length).toBeLessThanOrEqual(1)
        }
        // And nothing that is not selected.
        for (const { items } of told) {
          for (const { alarm } of items) expect(selected(route, alarm)).toBe(true)
        }
      }
    }),
    RUNS,
  )
})

test('of one alarm things are told in the order in which they happened, never twice in one message', () => {
  fc.assert(
    fc.property(someRoute, aPast, (route, past) => {
      const seen = new Map<number, number>()
      for (const { items, at } of live([route], past)) {
        expect(new Set(items.map(({ alarm }) => alarm.id)).size).toBe(items.length)
        for (const { alarm, since } of items) {
          const { id } = alarm
          expect(since).toBeLessThanOrEqual(at)
          expect(since).toBeGreaterThanOrEqual(seen.get(id) ?? 0)
          seen.set(id, since)
        }
      }
    }),
    RUNS,
  )
})

test('never more messages within an hour than the route may send', () => {
  fc.assert(
    fc.property(someRoute, aPast, (route, past) => {
      const times = live([route], past).map(({ at }) => at)
      for (const from of times) {
        const within = times.filter((at) => at >= from && at < from + HOUR)
        expect(within.length).toBeLessThanOrEqual(route.mostPerHour)
      }
    }),
    RUNS,
  )
})

test('what goes at once is of one bed', () => {
  fc.assert(
    fc.property(someRoute, aPast, (route, past) => {
      for (const { held, items } of live([route], past)) {
        if (held !== null) continue
        expect(new Set(items.map(({ alarm }) => alarm.bedId)).size).toBe(1)
      }
    }),
    RUNS,
  )
})

test('an alarm nobody acknowledges comes by the second route too, once; an acknowledged one does not', () => {
  fc.assert(
    fc.property(someRoute, aPast, (made, past) => {
      const first = { ...made, escalate: { afterMin: 30, to: 2 } }
      const second = aRoute({ id: 2, kinds: ['dry'], beds: [99] })
      const told = live([first, second], past)
      const shelved = new Set(past.filter((c) => c.what === 'shelved').map((c) => c.alarmId))
      for (const { what, alarm } of past) {
        if (what !== 'raised' || shelved.has(alarm.id)) continue
        const by = (route: number): Told[] =>
          told.filter(
            ({ routeId, items }) =>
              routeId === route && items.some((item) => item.alarm.id === alarm.id),
          )
        const [firstTold] = by(1)
        const quietedAt = past.find(
          (c) => c.alarmId === alarm.id && (c.what === 'acknowledged' || c.what === 'returned'),
        )?.at
        const handed = by(2).filter(({ items }) =>
          items.some((i) => i.alarm.id === alarm.id && i.reasons.includes('escalated')),
        )
        const due =
          firstTold !== undefined &&
          (quietedAt === undefined || quietedAt > firstTold.at + 30 * MINUTE)
        expect(handed.length).toBe(due ? 1 : 0)
      }
    }),
    RUNS,
  )
})
