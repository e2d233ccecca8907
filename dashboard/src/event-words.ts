import type { EventView, Findings } from '../../hub/api/schemas/findings.ts'
import { dateOnly, dateTime } from './format.ts'
import type { Units } from './format.ts'

type CauseName = EventView['cause']

/** What made the pH move, as it stands after 'most likely'. */
export const CAUSE_WORDS: Readonly<Record<CauseName, string>> = {
  soil: 'the soil itself',
  treatment: 'what was put on',
  water: 'water or warmth',
  service: 'a calibration or service',
  probe: 'one probe alone',
  'dry contact': 'dry soil around the electrode',
  unconfirmed: 'soil or electrode, one spot cannot tell',
}
const DAY = 86_400_000

/** A cause named by the API as plain text; one this page does not know stands as it came. */
export function causeNamed(cause: string): string {
  return Object.entries(CAUSE_WORDS).find(([name]) => name === cause)?.[1] ?? cause
}

/** How sure the cause is: settled, or until when it may still change. */
export function causeWords(
  event: Pick<EventView, 'cause' | 'decidedAt' | 'noticedAt'>,
  now: number,
  where: { zone: string; units: Units },
): string {
  const words = CAUSE_WORDS[event.cause]
  const said = event.cause === 'unconfirmed' ? words : `most likely ${words}`
  if (event.decidedAt !== null) return said
  // Causes are gone through again a day after a change was noticed.
  const settles = event.noticedAt + DAY
  return settles > now
    ? `${said}, provisional until ${dateTime(settles, where)}`
    : `${said}, provisional`
}

/** The cause in as few words as a lane has room for. */
export function causeBriefly(event: Pick<EventView, 'cause' | 'decidedAt'>): string {
  return `${CAUSE_WORDS[event.cause]}${event.decidedAt === null ? ', provisional' : ''}`
}

/** How an event stands now. */
export function stateWords(
  event: Pick<EventView, 'state' | 'endedAt'>,
  where: { zone: string; units: Units },
): string {
  const since = event.endedAt === null ? '' : ` since ${dateOnly(event.endedAt, where)}`
  switch (event.state) {
    case 'open':
      return 'still there'
    case 'recovered':
      return `back where it was${since}`
    case 'kept':
      return `stayed: taken as the normal level${since}`
  }
}

/** Day of the year, counted from 1, as day and month. */
export function yearDayWords(day: number, units: Units): string {
  const locale = units === 'us' ? 'en-US' : 'en-GB'
  const format = new Intl.DateTimeFormat(locale, {
    day: 'numeric',
    month: 'long',
    timeZone: 'UTC',
  })
  return format.format(Date.UTC(2023, 0, Math.round(day)))
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

/** A change of the bed itself, still there, that came after the slow questions were last gone through. */
export function newerThanStudy({
  events,
  studiedAt,
}: Pick<Findings, 'events' | 'studiedAt'>): EventView | null {
  const ofTheBed = events.filter(({ cause }) => cause === 'soil' || cause === 'treatment')
  const newest = newestOpen(ofTheBed)
  return newest !== null && studiedAt !== null && newest.noticedAt > studiedAt ? newest : null
}

/** How many changes there were, and how many are still there. */
export function changesSentence(events: readonly Pick<EventView, 'state'>[]): string {
  const within = 'in the last 400 days'
  const open = events.filter(({ state }) => state === 'open').length
  if (events.length === 0) return `No change of level was noticed ${within}.`
  const [only, second] = events
  if (only !== undefined && second === undefined) {
    const now = {
      open: 'it is still there',
      kept: 'it has become the normal level',
      recovered: 'it has gone back',
    }[only.state]
    return `One change of level ${within}; ${now}.`
  }
  const still = open === 0 ? 'none' : open === 1 ? 'one' : String(open)
  return `${events.length} changes of level ${within}, ${still} of them still open.`
}
