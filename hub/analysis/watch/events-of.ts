import type { WatchEvent } from './event.ts'
import type { WatchState } from './watch-state.ts'

/** Everything noticed in the last 400 days, oldest first. */
export function eventsOf(state: WatchState): readonly WatchEvent[] {
  return state.events
}
