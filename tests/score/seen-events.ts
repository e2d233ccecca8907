import type { WatchEvent } from '#hub/analysis/watch/event.ts'
import { eventsOf } from '#hub/analysis/watch/events-of.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { stepWatch } from '#hub/analysis/watch/step-watch.ts'
import { watchHours } from '#hub/analysis/watch/watch-hours.ts'
import { HOUR } from '#hub/model/clock.ts'
import type { BedInput } from './bed-input.ts'

/** One event as somebody who looked every hour would have told it. */
export interface SeenEvent {
  /** End of the hour after which it was first told, epoch ms: by then the gardener could know. */
  readonly seenAt: number
  /** As told then. */
  readonly first: WatchEvent
  /** As told when its cause was settled; as it last stood when the record ended before that. */
  readonly settled: WatchEvent
  /** As it stood at the end. */
  readonly last: WatchEvent
}

/** Takes the watch through all hours of a bed and keeps what it told on the way, in the order it was told. */
export function seenEvents({ feeds, context }: BedInput): readonly SeenEvent[] {
  const state = startWatch(feeds.bed, feeds.from)
  const seen = new Map<string, { seenAt: number; first: WatchEvent; settled: WatchEvent | null }>()
  const latest = new Map<string, WatchEvent>()
  for (const hour of watchHours(feeds)) {
    stepWatch(state, hour, context)
    for (const event of eventsOf(state)) {
      latest.set(event.id, event)
      let known = seen.get(event.id)
      if (known === undefined) {
        known = { seenAt: hour.hour + HOUR, first: structuredClone(event), settled: null }
        seen.set(event.id, known)
      }
      if (known.settled === null && event.decidedAt !== null) known.settled = structuredClone(event)
    }
  }
  return Array.from(seen, ([id, { seenAt, first, settled }]) => {
    const last = latest.get(id)!
    return { seenAt, first, settled: settled ?? last, last }
  })
}
