import { HOUR, MINUTE } from '../../model/clock.ts'
import type { Alarm, AlarmChange } from '../../model/alarm.ts'
import type { MessageHold, MessageItem, Route } from '../../model/route.ts'
import type { RouteState, ToldAlarm, WaitingItem } from '../../model/route-state.ts'
import { dueOf } from './due.ts'
import { addWaiting, takeIn } from './take-in.ts'

export interface PlanInput {
  /** Changes of alarms since the route's cursor, ascending; older ones are passed over. */
  readonly changes: readonly AlarmChange[]
  /** Alarms another route hands over because nobody acknowledged them. */
  readonly escalated: readonly Alarm[]
  /** Alarms that messages of this route are still on their way with: these are not repeated. */
  readonly undelivered: ReadonlySet<number>
  /** Whether the route to escalate to takes alarms now. */
  readonly canEscalate: boolean
  /** Epoch ms. */
  readonly now: number
  /** IANA zone of the garden. */
  readonly zone: string
  /** Names of beds; a bed without one is left without. */
  readonly bedNames: ReadonlyMap<number, string>
}

/** A message to be written, without an identity yet. */
export interface Planned {
  readonly held: MessageHold | null
  readonly items: readonly MessageItem[]
}

export interface RoutePlan {
  readonly state: RouteState
  readonly messages: readonly Planned[]
  /** For the route that this one escalates to. */
  readonly handedOver: readonly Alarm[]
  /** When there is something to plan again if nothing happens, epoch ms; null: never. */
  readonly nextAt: number | null
}

const isOpen = (alarm: Alarm): boolean =>
  alarm.state === 'unacknowledged' && alarm.shelvedUntil === null

const repeatAt = (route: Route, told: ToldAlarm): number =>
  route.repeatMin === null || !isOpen(told.alarm)
    ? Number.POSITIVE_INFINITY
    : told.at + route.repeatMin * MINUTE

const escalateAt = (route: Route, told: ToldAlarm): number =>
  route.escalate === null || told.escalated || !isOpen(told.alarm)
    ? Number.POSITIVE_INFINITY
    : told.firstAt + route.escalate.afterMin * MINUTE

/** What waits, split in what may go now and what may not yet. */
function sortOut(route: Route, waiting: readonly WaitingItem[], now: number, zone: string) {
  const seen = waiting.map((item) => {
    const due = dueOf(route, item, now, zone)
    return { item: { ...item, held: item.held ?? due.held }, at: due.at }
  })
  const ready = seen.filter(({ at }) => at <= now)
  // The first thing that happened in a bed opens the time in which the rest of the bed joins.
  const beds = new Set(ready.flatMap(({ item }) => (item.held === null ? [item.alarm.bedId] : [])))
  const joins = (one: (typeof seen)[number]): boolean =>
    one.at <= now || (one.item.held === null && beds.has(one.item.alarm.bedId))
  return {
    ready: seen.filter(joins).map(({ item }) => item),
    later: seen.filter((one) => !joins(one)),
  }
}

/** One message a bed for what goes at once, one for all that was kept. */
function intoMessages(ready: readonly WaitingItem[]): WaitingItem[][] {
  const groups = Map.groupBy(ready, ({ held, alarm }) =>
    held === null ? `${alarm.bedId}` : 'kept',
  )
  return [...groups.values()]
}

/**
 * What a route says next: pure, so that it can be gone through again after a crash. Every alarm it is meant to tell
 * of is told at least once, in order; nothing leaves in quiet hours but what is let through; what was kept becomes one
 * message, and so does what is more than the route may send in an hour.
 */
export function planRoute(route: Route, before: RouteState, input: PlanInput): RoutePlan {
  const { now, zone, bedNames, undelivered } = input
  let state = before
  for (const change of input.changes) state = takeIn(route, state, change)
  let { waiting, told } = state
  for (const alarm of input.escalated) waiting = addWaiting(waiting, alarm, 'escalated', now)
  const waits = (id: number): boolean => waiting.some(({ alarm }) => alarm.id === id)
  for (const one of told) {
    const { id } = one.alarm
    if (repeatAt(route, one) <= now && !undelivered.has(id) && !waits(id)) {
      waiting = addWaiting(waiting, one.alarm, 'again', now)
    }
  }
  const handedOver = input.canEscalate
    ? told.flatMap((one) => (escalateAt(route, one) <= now ? [one.alarm] : []))
    : []
  told = told.map((one) => (handedOver.includes(one.alarm) ? { ...one, escalated: true } : one))

  const { ready, later } = sortOut(route, waiting, now, zone)
  const madeAt = state.madeAt.filter((at) => at > now - HOUR)
  const room = route.mostPerHour - madeAt.length
  let groups = intoMessages(ready)
  waiting = later.map(({ item }) => item)
  let freeAt = Number.POSITIVE_INFINITY
  if (groups.length > Math.max(0, room)) {
    const flooded = ready.map((item) => ({ ...item, held: 'flood' as const }))
    if (room > 0) groups = [flooded]
    else {
      groups = []
      waiting = [...flooded, ...waiting]
      freeAt = madeAt[madeAt.length - route.mostPerHour]! + HOUR
    }
  }
  const messages = groups.map((items): Planned => ({
    held: items.some(({ held }) => held === 'flood') ? 'flood' : items[0]!.held,
    items: items
      .toSorted((a, b) => a.since - b.since || a.alarm.id - b.alarm.id)
      .map(({ alarm, reasons, since }) => ({
        alarm,
        bed: alarm.bedId === null ? null : (bedNames.get(alarm.bedId) ?? null),
        reasons,
        since,
      })),
  }))
  told = remember(route, told, groups.flat(), now)
  const nextAt = Math.min(
    freeAt,
    ...later.map(({ at }) => at),
    // One that waits, or is on its way, is due by that.
    ...told.flatMap((one) => {
      const { id } = one.alarm
      const busy = undelivered.has(id) || waiting.some((item) => item.alarm.id === id)
      return busy ? [] : [repeatAt(route, one)]
    }),
    ...(input.canEscalate ? told.map((one) => escalateAt(route, one)) : []),
  )
  return {
    state: {
      cursor: state.cursor,
      waiting,
      told,
      madeAt: [...madeAt, ...messages.map(() => now)],
    },
    messages,
    handedOver,
    nextAt: Number.isFinite(nextAt) ? nextAt : null,
  }
}

/** The told alarms after a message about some of them was made. */
function remember(
  route: Route,
  told: readonly ToldAlarm[],
  said: readonly WaitingItem[],
  now: number,
): readonly ToldAlarm[] {
  const kept = told.map((one) =>
    said.some(({ alarm }) => alarm.id === one.alarm.id) ? { ...one, at: now } : one,
  )
  const fresh = said.flatMap(({ alarm, reasons }): ToldAlarm[] => {
    const known = told.some((one) => one.alarm.id === alarm.id)
    // What another route handed over is that route's to repeat; an episode that is over needs no more.
    const foreign = reasons.every((reason) => reason === 'escalated')
    if (known || foreign || alarm.state === 'normal') return []
    return [{ alarm, firstAt: now, at: now, escalated: false }]
  })
  return [...kept, ...fresh]
}

/** A message about these alarms has arrived: the time until they are repeated runs from then. */
export function wasDelivered(
  state: RouteState,
  alarmIds: ReadonlySet<number>,
  at: number,
): RouteState {
  return {
    ...state,
    told: state.told.map((one) => (alarmIds.has(one.alarm.id) ? { ...one, at } : one)),
  }
}
