import type { Alarm, AlarmChange } from '../../model/alarm.ts'
import type { Message, Route } from '../../model/route.ts'
import type { RouteState } from '../../model/route-state.ts'
import { planRoute, type PlanInput, type RoutePlan } from './plan-route.ts'

/** The plans of all routes that are on, what they hand to each other included. */
export function planAll(
  routes: readonly Route[],
  states: ReadonlyMap<number, RouteState>,
  changes: readonly AlarmChange[],
  open: readonly Pick<Message, 'routeId' | 'items'>[],
  context: Pick<PlanInput, 'now' | 'zone' | 'bedNames'>,
): ReadonlyMap<number, RoutePlan> {
  const on = routes.filter((route) => route.on && states.has(route.id))
  const takes = (id: number | undefined): boolean => on.some((route) => route.id === id)
  const inputOf = (route: Route, news: readonly AlarmChange[], escalated: readonly Alarm[]) => ({
    ...context,
    changes: news,
    escalated,
    undelivered: new Set(
      open
        .filter(({ routeId }) => routeId === route.id)
        .flatMap(({ items }) => items.map(({ alarm }) => alarm.id)),
    ),
    canEscalate: takes(route.escalate?.to),
  })
  const plans = new Map(
    on.map((route) => [
      route.id,
      planRoute(route, states.get(route.id)!, inputOf(route, changes, [])),
    ]),
  )
  const handed = on.flatMap((route) =>
    plans.get(route.id)!.handedOver.map((alarm) => ({ to: route.escalate!.to, alarm })),
  )
  for (const [to, ones] of Map.groupBy(handed, (one) => one.to)) {
    const route = on.find(({ id }) => id === to)!
    const first = plans.get(to)!
    const alarms = ones.map(({ alarm }) => alarm)
    const second = planRoute(route, first.state, inputOf(route, [], alarms))
    plans.set(to, { ...second, messages: [...first.messages, ...second.messages] })
  }
  return plans
}
