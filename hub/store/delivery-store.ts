import type { Message, NewMessage, NewRoute, Route } from '../model/route.ts'
import type { RouteState } from '../model/route-state.ts'

/** What one route remembers from now on, and the messages that came of it. */
export interface RouteStep {
  readonly routeId: number
  readonly state: RouteState
  readonly messages: readonly NewMessage[]
}

/** Routes and their outbox. Every method is one transaction. */
export interface DeliveryStore {
  /** Oldest first. */
  routes(): Promise<readonly Route[]>
  /** It has seen every alarm up to now. */
  addRoute(route: NewRoute, secret: string | null, at: number): Promise<Route>
  /** `secret` left out: stays. One that is switched on again has seen every alarm up to then. */
  changeRoute(id: number, route: NewRoute, secret?: string | null): Promise<Route | null>
  /** Null ends the pause. */
  pauseRoute(id: number, until: number | null): Promise<Route | null>
  /** Its messages go with it; what other routes escalate to it is escalated no more. */
  removeRoute(id: number): Promise<boolean>
  routeSecret(id: number): Promise<string | null>
  routeState(id: number): Promise<RouteState | null>
  /** All of it is stored, or nothing. A route that is gone is passed over. */
  saveRouteSteps(steps: readonly RouteStep[]): Promise<void>

  /** Newest first. */
  messages(options: {
    readonly routeId?: number
    readonly limit: number
  }): Promise<readonly Message[]>
  /** Everything that is neither sent nor given up, oldest first. */
  openMessages(): Promise<readonly Message[]>
  /** Stores how a message got on: its state, tries, times and answer. */
  saveMessage(message: Message): Promise<void>
  /** Forgets finished messages made before a time, epoch ms, and of the others all but the newest. */
  tidyMessages(before: number, newest: number): Promise<void>

  /** Something the hub made for itself, such as its keys; null when it is not there yet. */
  own(name: string): Promise<string | null>
  setOwn(name: string, value: string): Promise<void>
}
