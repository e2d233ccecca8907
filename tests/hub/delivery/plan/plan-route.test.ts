import { expect, test } from 'vitest'
import { planRoute, type PlanInput, type RoutePlan } from '#hub/delivery/plan/plan-route.ts'
import type { AlarmChange } from '#hub/model/alarm.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { Route } from '#hub/model/route.ts'
import { freshRouteState, type RouteState } from '#hub/model/route-state.ts'
import { aChange, anAlarm, aRoute } from '../../../support/alarm-fixture.ts'

/** Noon in Lisbon, in winter: the zone is UTC then. */
const NOON = Date.parse('2026-01-10T12:00:00Z')
const NAMES = new Map([
  [3, 'Long bed'],
  [4, 'Herbs'],
])

function plan(
  route: Route,
  state: RouteState,
  now: number,
  changes: readonly AlarmChange[] = [],
  more: Partial<PlanInput> = {},
): RoutePlan {
  return planRoute(route, state, {
    changes,
    escalated: [],
    undelivered: new Set(),
    canEscalate: true,
    now,
    zone: 'Europe/Lisbon',
    bedNames: NAMES,
    ...more,
  })
}
const told = ({ messages }: RoutePlan): string[] =>
  messages.map(
    ({ held, items }) =>
      `${held ?? 'at once'}: ${items.map(({ bed, alarm, reasons }) => `${bed ?? '-'} ${alarm.id} ${reasons.join('+')}`).join(', ')}`,
  )
const START = freshRouteState(0)

test('what happens in a bed within the window is one message, another bed’s is another', () => {
  const route = aRoute({ gatherMin: 5 })
  const changes = [
    aChange(1, NOON, 'raised', anAlarm({ id: 1 })),
    aChange(2, NOON + MINUTE, 'raised', anAlarm({ id: 2, kind: 'dry', priority: 'medium' })),
    aChange(3, NOON + 4 * MINUTE, 'raised', anAlarm({ id: 3, bedId: 4 })),
  ]
  const early = plan(route, START, NOON + 4 * MINUTE, changes)
  expect(told(early)).toEqual([])
  expect(early.nextAt).toBe(NOON + 5 * MINUTE)
  const first = plan(route, early.state, NOON + 5 * MINUTE)
  expect(told(first)).toEqual(['at once: Long bed 1 raised, Long bed 2 raised'])
  expect(first.nextAt).toBe(NOON + 9 * MINUTE)
  expect(told(plan(route, first.state, NOON + 9 * MINUTE))).toEqual(['at once: Herbs 3 raised'])
})

test('what comes in quiet hours is summed up at their end, but for what is let through', () => {
  const route = aRoute({ quiet: { from: '22:00', to: '07:00', letThrough: 'high' } })
  const night = Date.parse('2026-01-10T23:00:00Z')
  const changes = [
    aChange(1, night, 'raised', anAlarm({ id: 1, priority: 'medium' })),
    aChange(2, night + HOUR, 'raised', anAlarm({ id: 2, bedId: 4, priority: 'low' })),
    aChange(3, night + 2 * HOUR, 'raised', anAlarm({ id: 3, bedId: 4, priority: 'high' })),
  ]
  const loud = plan(route, START, night + 2 * HOUR, changes)
  expect(told(loud)).toEqual(['at once: Herbs 3 raised'])
  const seven = Date.parse('2026-01-11T07:00:00Z')
  expect(loud.nextAt).toBe(seven)
  expect(told(plan(route, loud.state, seven - 1))).toEqual([])
  expect(told(plan(route, loud.state, seven))).toEqual(['quiet: Long bed 1 raised, Herbs 2 raised'])
  // The hub was off all night.
  expect(told(plan(route, START, seven + HOUR, changes))).toEqual([
    'quiet: Long bed 1 raised, Herbs 2 raised',
    'at once: Herbs 3 raised',
  ])
})

test('what waited says what has become of it meanwhile', () => {
  const route = aRoute({ quiet: { from: '22:00', to: '07:00', letThrough: null } })
  const night = Date.parse('2026-01-10T23:00:00Z')
  const over = anAlarm({ id: 1, state: 'returned', returnedAt: night + HOUR })
  const { state } = plan(route, START, night + HOUR, [
    aChange(1, night, 'raised', anAlarm({ id: 1 })),
    aChange(2, night + HOUR, 'returned', over),
  ])
  const [message] = plan(route, state, Date.parse('2026-01-11T07:00:00Z')).messages
  expect(message?.items).toMatchObject([
    { reasons: ['raised', 'returned'], since: night, alarm: { state: 'returned' } },
  ])
})

test('harmful shifts at once, the rest at seven', () => {
  const route = aRoute({ digestAt: '07:00', atOnceFrom: 'high' })
  const first = plan(route, START, NOON, [
    aChange(1, NOON, 'raised', anAlarm({ id: 1 })),
    aChange(2, NOON, 'raised', anAlarm({ id: 2, kind: 'dry', priority: 'medium' })),
    aChange(3, NOON, 'raised', anAlarm({ id: 3, bedId: 4, kind: 'battery-low', priority: 'low' })),
  ])
  expect(told(first)).toEqual(['at once: Long bed 1 raised'])
  expect(first.nextAt).toBe(Date.parse('2026-01-11T07:00:00Z'))
  expect(told(plan(route, first.state, first.nextAt!))).toEqual([
    'digest: Long bed 2 raised, Herbs 3 raised',
  ])
})

test('repeated until it is acknowledged; not while the message before is still on its way', () => {
  const route = aRoute({ repeatMin: 60 })
  const first = plan(route, START, NOON, [aChange(1, NOON, 'raised', anAlarm())])
  expect(first.nextAt).toBe(NOON + HOUR)
  const stuck = plan(route, first.state, NOON + HOUR, [], { undelivered: new Set([7]) })
  expect(told(stuck)).toEqual([])
  const again = plan(route, first.state, NOON + HOUR)
  expect(told(again)).toEqual(['at once: Long bed 7 again'])
  expect(again.nextAt).toBe(NOON + 2 * HOUR)
  const seen = anAlarm({ state: 'acknowledged', acknowledgedAt: NOON + 90 * MINUTE })
  const quiet = plan(route, again.state, NOON + 2 * HOUR, [
    aChange(2, NOON + 90 * MINUTE, 'acknowledged', seen),
  ])
  expect(told(quiet)).toEqual([])
  expect(quiet.nextAt).toBeNull()
})

test('handed over once when nobody acknowledges, and not by a route that cannot', () => {
  const route = aRoute({ escalate: { afterMin: 30, to: 2 } })
  const first = plan(route, START, NOON, [aChange(1, NOON, 'raised', anAlarm())])
  expect(first.nextAt).toBe(NOON + 30 * MINUTE)
  expect(plan(route, first.state, first.nextAt!, [], { canEscalate: false }).handedOver).toEqual([])
  const handed = plan(route, first.state, first.nextAt!)
  expect(handed.handedOver).toMatchObject([{ id: 7 }])
  expect(plan(route, handed.state, NOON + DAY).handedOver).toEqual([])
  // The other route tells it at once, whatever it selects, and does not repeat it.
  const other = aRoute({
    id: 2,
    kinds: ['dry'],
    digestAt: '07:00',
    atOnceFrom: 'high',
    repeatMin: 5,
  })
  const loud = plan(other, START, NOON, [], { escalated: [anAlarm({ priority: 'low' })] })
  expect(told(loud)).toEqual(['at once: Long bed 7 escalated'])
  expect(loud.nextAt).toBeNull()
})

test('more than so many an hour become one, as soon as the hour has room', () => {
  const route = aRoute({ mostPerHour: 2 })
  const changes = [1, 2, 3, 4, 5].map((id) =>
    aChange(id, NOON + id, 'raised', anAlarm({ id, bedId: id + 10 })),
  )
  const first = plan(route, START, NOON + 2, changes.slice(0, 2))
  expect(first.messages).toHaveLength(2)
  const full = plan(route, first.state, NOON + 5, changes)
  expect(told(full)).toEqual([])
  expect(full.nextAt).toBe(NOON + 2 + HOUR)
  const room = plan(route, full.state, full.nextAt!)
  expect(told(room)).toEqual(['flood: - 3 raised, - 4 raised, - 5 raised'])
  // All at once: what does not fit becomes one.
  expect(told(plan(route, START, NOON + 5, changes))).toHaveLength(1)
})

test('what comes back within an episode is told, and handed over, anew', () => {
  const route = aRoute({ tells: 'ended', escalate: { afterMin: 30, to: 2 } })
  const back = anAlarm({ state: 'returned', returnedAt: NOON + HOUR })
  const first = plan(route, START, NOON, [aChange(1, NOON, 'raised', anAlarm())])
  const handed = plan(route, first.state, NOON + 30 * MINUTE)
  expect(handed.handedOver).toHaveLength(1)
  const over = plan(route, handed.state, NOON + HOUR, [aChange(2, NOON + HOUR, 'returned', back)])
  expect(told(over)).toEqual(['at once: Long bed 7 returned'])
  const again = plan(route, over.state, NOON + 2 * HOUR, [
    aChange(3, NOON + 2 * HOUR, 'raised', anAlarm()),
  ])
  expect(told(again)).toEqual(['at once: Long bed 7 raised'])
  expect(again.nextAt).toBe(NOON + 2 * HOUR + 30 * MINUTE)
  expect(plan(route, again.state, again.nextAt!).handedOver).toHaveLength(1)
})

test('a shelved alarm is neither told nor repeated; back from the shelf it is', () => {
  const route = aRoute({ gatherMin: 5, repeatMin: 60 })
  const shelved = anAlarm({ shelvedUntil: NOON + DAY })
  const kept = plan(route, START, NOON + 10 * MINUTE, [
    aChange(1, NOON, 'raised', anAlarm()),
    aChange(2, NOON + MINUTE, 'shelved', shelved),
  ])
  expect(told(kept)).toEqual([])
  expect(kept.nextAt).toBeNull()
  const back = plan(route, kept.state, NOON + 2 * DAY, [
    aChange(3, NOON + DAY, 'unshelved', anAlarm()),
  ])
  expect(told(back)).toEqual(['at once: Long bed 7 unshelved'])
  const off = plan(route, back.state, NOON + 3 * DAY, [
    aChange(4, NOON + 2 * DAY + MINUTE, 'shelved', shelved),
  ])
  expect(told(off)).toEqual([])
})

test('a route tells what it selects; what only now is important enough too', () => {
  const route = aRoute({ kinds: ['harmful-shift', 'dry'], beds: [3], leastPriority: 'medium' })
  const dry = anAlarm({ id: 4, kind: 'dry', priority: 'low' })
  const first = plan(route, START, NOON, [
    aChange(1, NOON, 'raised', anAlarm({ id: 1 })),
    aChange(2, NOON, 'raised', anAlarm({ id: 2, kind: 'waterlogged' })),
    aChange(3, NOON, 'raised', anAlarm({ id: 3, bedId: 4 })),
    aChange(4, NOON, 'raised', dry),
    // About no bed: everybody's business.
    aChange(5, NOON, 'raised', anAlarm({ id: 5, bedId: null, kind: 'dry', priority: 'medium' })),
  ])
  expect(told(first)).toEqual(['at once: Long bed 1 raised', 'at once: - 5 raised'])
  const worse = plan(route, first.state, NOON + 1, [
    aChange(6, NOON + 1, 'changed', { ...dry, priority: 'medium' }),
  ])
  expect(told(worse)).toEqual(['at once: Long bed 4 changed'])
  // Other words about what was told are no news for a route that tells beginnings.
  const words = plan(route, worse.state, NOON + 2, [
    aChange(7, NOON + 2, 'changed', anAlarm({ id: 1 })),
  ])
  expect(told(words)).toEqual([])
})

test('how much of an episode is told: its beginning, its end, everything', () => {
  const back = anAlarm({ state: 'returned', returnedAt: NOON + 2 })
  const over = anAlarm({ state: 'normal', acknowledgedAt: NOON + 3, returnedAt: NOON + 2 })
  const episode = [
    aChange(1, NOON, 'raised', anAlarm()),
    aChange(2, NOON + 1, 'changed', anAlarm()),
    aChange(3, NOON + 2, 'returned', back),
    aChange(4, NOON + 3, 'acknowledged', over),
  ]
  const all = (tells: Route['tells']): string[] => {
    let state = START
    return episode.flatMap((change) => {
      const step = plan(aRoute({ tells }), state, change.at, [change])
      state = step.state
      return told(step)
    })
  }
  expect(all('raised')).toEqual(['at once: Long bed 7 raised'])
  expect(all('ended')).toEqual(['at once: Long bed 7 raised', 'at once: Long bed 7 returned'])
  expect(all('all')).toHaveLength(4)
})

test('a paused route keeps everything and sums it up', () => {
  const route = aRoute({ pausedUntil: NOON + DAY })
  const kept = plan(route, START, NOON, [aChange(1, NOON, 'raised', anAlarm())])
  expect(told(kept)).toEqual([])
  expect(kept.nextAt).toBe(NOON + DAY)
  expect(told(plan(route, kept.state, NOON + DAY))).toEqual(['pause: Long bed 7 raised'])
  // Ended before its time: what it kept goes as one too.
  expect(told(plan(aRoute(), kept.state, NOON + HOUR))).toEqual(['pause: Long bed 7 raised'])
})
