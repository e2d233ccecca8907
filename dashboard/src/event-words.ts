import type { EventView } from '../../hub/api/schemas/findings.ts'
import { said, say, toSay } from './say.ts'

type CauseName = EventView['cause']

/** What made the pH move, as it stands after 'most likely'. */
export const CAUSE_WORDS: Readonly<Record<CauseName, string>> = {
  soil: toSay('the soil itself'),
  treatment: toSay('what was put on'),
  water: toSay('water or warmth'),
  service: toSay('a calibration or service'),
  probe: toSay('one probe alone'),
  'dry contact': toSay('dry soil around the electrode'),
  unconfirmed: toSay('soil or electrode, one spot cannot tell'),
}

/** The cause in as few words as a lane has room for. */
export function causeBriefly(event: Pick<EventView, 'cause' | 'decidedAt'>): string {
  const words = said(CAUSE_WORDS[event.cause])
  return event.decidedAt === null ? say`${words}, provisional` : words
}

/** The newest event that is still open. */
export function newestOpen(events: readonly EventView[]): EventView | null {
  return events
    .filter((event) => event.state === 'open')
    .reduce<EventView | null>(
      (best, event) => (best === null || event.onset > best.onset ? event : best),
      null,
    )
}
