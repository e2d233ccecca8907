import { ALARM_PRIORITIES, type AlarmPriority } from '../../model/alarm.ts'
import { MINUTE } from '../../model/clock.ts'
import type { MessageHold, Route } from '../../model/route.ts'
import type { WaitingItem } from '../../model/route-state.ts'
import { nextTimeOfDay, quietUntil } from './time-of-day.ts'

const rank = (priority: AlarmPriority): number => ALARM_PRIORITIES.indexOf(priority)

/** Whether one priority is at least another. */
export const atLeast = (priority: AlarmPriority, least: AlarmPriority): boolean =>
  rank(priority) >= rank(least)

/** Until when something of this priority may not leave by a route, and why; null: it may leave now. */
export function keptUntil(
  route: Route,
  priority: AlarmPriority,
  at: number,
  zone: string,
): { readonly at: number; readonly held: MessageHold } | null {
  const { quiet, pausedUntil } = route
  let until = at
  let held: MessageHold | null = null
  if (pausedUntil !== null && pausedUntil > until) {
    until = pausedUntil
    held = 'pause'
  }
  if (quiet !== null && !(quiet.letThrough !== null && atLeast(priority, quiet.letThrough))) {
    const end = quietUntil(quiet, until, zone)
    if (end !== null) {
      until = end
      held = 'quiet'
    }
  }
  return held === null ? null : { at: until, held }
}

/**
 * When a waiting item may be told, and what holds it until then. Looked at late (the hub was away), what held it
 * first still counts.
 *
 * @param now epoch ms
 */
export function dueOf(
  route: Route,
  item: WaitingItem,
  now: number,
  zone: string,
): { readonly at: number; readonly held: MessageHold | null } {
  const { alarm, reasons, since } = item
  const atOnce =
    route.digestAt === null ||
    atLeast(alarm.priority, route.atOnceFrom) ||
    reasons.includes('escalated')
  const first = atOnce
    ? { at: since + route.gatherMin * MINUTE, held: null }
    : { at: nextTimeOfDay(since, route.digestAt, zone), held: 'digest' as const }
  const then = keptUntil(route, alarm.priority, first.at, zone) ?? first
  if (then.at > now) return then
  return keptUntil(route, alarm.priority, now, zone) ?? then
}
