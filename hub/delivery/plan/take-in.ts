import type { Alarm, AlarmChange } from '../../model/alarm.ts'
import type { Route } from '../../model/route.ts'
import type { RouteState, WaitingItem } from '../../model/route-state.ts'
import { atLeast } from './due.ts'

/** Whether a route is meant to tell of an alarm. One about no bed is everybody's business. */
export function selects(route: Route, alarm: Alarm): boolean {
  const { kinds, beds, leastPriority } = route
  return (
    (kinds === null || kinds.includes(alarm.kind)) &&
    (beds === null || alarm.bedId === null || beds.includes(alarm.bedId)) &&
    atLeast(alarm.priority, leastPriority)
  )
}

/** Whether a change is news for a route. */
function isNews(
  route: Route,
  { what, alarm }: AlarmChange,
  /** The route has told of it, or is about to. */
  known: boolean,
): boolean {
  switch (what) {
    case 'raised':
      return true
    case 'unshelved':
      return alarm.state === 'unacknowledged'
    case 'changed':
      // One that only now is important enough has not been told yet.
      return route.tells === 'all' || (!known && alarm.state === 'unacknowledged')
    case 'returned':
      return route.tells === 'all' || (route.tells === 'ended' && known)
    case 'closed':
    case 'acknowledged':
    case 'noted':
      return route.tells === 'all'
    case 'shelved':
      return false
  }
}

/** Puts more to say to what waits about an alarm. */
export function addWaiting(
  waiting: readonly WaitingItem[],
  alarm: Alarm,
  reason: WaitingItem['reasons'][number],
  at: number,
): readonly WaitingItem[] {
  const before = waiting.find((item) => item.alarm.id === alarm.id)
  if (before === undefined) return [...waiting, { alarm, reasons: [reason], since: at, held: null }]
  const reasons = before.reasons.at(-1) === reason ? before.reasons : [...before.reasons, reason]
  return waiting.map((item) => (item === before ? { ...item, alarm, reasons } : item))
}

/**
 * What a route remembers after one more change of an alarm. What waits about an alarm is brought up to date;
 * a shelved one waits for nothing.
 */
export function takeIn(route: Route, state: RouteState, change: AlarmChange): RouteState {
  const { alarm, what, at, id: cursor } = change
  if (cursor <= state.cursor) return state
  const wasTold = state.told.some((one) => one.alarm.id === alarm.id)
  const waits = state.waiting.some((item) => item.alarm.id === alarm.id)
  const shelved = alarm.shelvedUntil !== null
  const news = selects(route, alarm) && isNews(route, change, wasTold || waits)
  const told = state.told.flatMap((one) => {
    if (one.alarm.id !== alarm.id) return [one]
    // Raised anew within the episode: told, repeated and handed over anew.
    return alarm.state === 'normal' || what === 'raised' ? [] : [{ ...one, alarm }]
  })
  const waiting = shelved
    ? state.waiting.filter((item) => item.alarm.id !== alarm.id)
    : news || waits
      ? addWaiting(state.waiting, alarm, what, at)
      : state.waiting
  return { ...state, cursor, waiting, told }
}
