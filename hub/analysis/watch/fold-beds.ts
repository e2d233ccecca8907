import { HOUR } from '../../model/clock.ts'
import type { SpotDay } from '../../model/spot-day.ts'
import type { WatchEvent } from './event.ts'
import { eventsOf } from './events-of.ts'
import type { WatchHour } from './hour-row.ts'
import { stepWatch } from './step-watch.ts'
import type { WatchContext, WatchState } from './watch-state.ts'

/** A bed on its way through its hours. */
export interface Folding {
  readonly state: WatchState
  /** `others` is filled in by the fold. */
  readonly context: WatchContext & { readonly others: WatchEvent[] }
  /** Ascending; those before the state's cursor are passed over. */
  readonly hours: readonly WatchHour[]
}

/**
 * Takes the beds of a garden through their hours up to `to` (epoch ms, a whole hour), all of them hour by hour
 * together: what one bed knows of the others never depends on how far somebody happened to read. Hours without a
 * row are passed over, but for the last, which brings the cursor up to `to`.
 *
 * @param standing beds that are not folded, but whose events the others should know
 */
export function foldBeds(
  beds: readonly Folding[],
  to: number,
  options: {
    readonly standing?: readonly WatchState[]
    /** After every hour that a bed took in: its index, the end of the hour, the days that became complete. */
    readonly onHour?: (bed: number, end: number, days: readonly SpotDay[]) => void
  } = {},
): void {
  const standing = (options.standing ?? []).flatMap((state) => eventsOf(state))
  const tellOthers = (): void => {
    const all = beds.map(({ state }) => eventsOf(state))
    for (const [i, { context }] of beds.entries()) {
      context.others.length = 0
      context.others.push(...standing)
      for (const [j, events] of all.entries()) if (j !== i) context.others.push(...events)
    }
  }
  tellOthers()
  const next = beds.map(({ state, hours }) => hours.findIndex(({ hour }) => hour >= state.cursor))
  const from = Math.min(...beds.map(({ state }) => state.cursor))
  for (let hour = from; hour < to; hour += HOUR) {
    let news = false
    for (const [i, { state, context, hours }] of beds.entries()) {
      if (state.cursor > hour) continue
      const row = hours[next[i]!]
      const present = row?.hour === hour
      if (!present && hour + HOUR < to) continue
      if (present) next[i]!++
      const before = eventsOf(state).length
      const days = stepWatch(state, present ? row : { hour, rows: [] }, context)
      news ||= eventsOf(state).length !== before
      options.onHour?.(i, hour + HOUR, days)
    }
    if (news) tellOthers()
  }
}
