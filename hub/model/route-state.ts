import type { Alarm } from './alarm.ts'
import type { ItemReason, MessageHold } from './route.ts'

/** What a route has still to say about an alarm. */
export interface WaitingItem {
  /** As it is now: what happens while it waits is said with it. */
  readonly alarm: Alarm
  readonly reasons: readonly ItemReason[]
  /** When the first of it happened, epoch ms. */
  readonly since: number
  /** What keeps it, once something did. */
  readonly held: MessageHold | null
}

/** An alarm a route has told of, until its episode is over. */
export interface ToldAlarm {
  readonly alarm: Alarm
  readonly firstAt: number
  /** When it was told last, epoch ms. */
  readonly at: number
  readonly escalated: boolean
}

/** Everything a route remembers between two looks at the alarms; plain data. */
export interface RouteState {
  /** The last change of an alarm it has seen. */
  readonly cursor: number
  readonly waiting: readonly WaitingItem[]
  readonly told: readonly ToldAlarm[]
  /** When its messages of the last hour were made, ascending. */
  readonly madeAt: readonly number[]
}

/** A route that has seen everything up to a change and has nothing to say about it. */
export const freshRouteState = (cursor: number): RouteState => ({
  cursor,
  waiting: [],
  told: [],
  madeAt: [],
})
