import type { EventView, Findings } from '../../hub/api/schemas/findings.ts'
import { CAUSE_WORDS, newestOpen } from './event-words.ts'
import { dateOnly, dateTime, localeOf } from './format.ts'
import type { Units } from './format.ts'
import { said, say } from './say.ts'

const DAY = 86_400_000

/** A cause named by the API as plain text; one this page does not know stands as it came. */
export function causeNamed(cause: string): string {
  return said(Object.entries(CAUSE_WORDS).find(([name]) => name === cause)?.[1] ?? cause)
}

/** How sure the cause is: settled, or until when it may still change. */
export function causeWords(
  event: Pick<EventView, 'cause' | 'decidedAt' | 'noticedAt'>,
  now: number,
  where: { zone: string; units: Units },
): string {
  const words = said(CAUSE_WORDS[event.cause])
  const cause = event.cause === 'unconfirmed' ? words : say`most likely ${words}`
  if (event.decidedAt !== null) return cause
  // Causes are gone through again a day after a change was noticed.
  const settles = event.noticedAt + DAY
  return settles > now
    ? say`${cause}, provisional until ${dateTime(settles, where)}`
    : say`${cause}, provisional`
}

/** How an event stands now. */
export function stateWords(
  event: Pick<EventView, 'state' | 'endedAt'>,
  where: { zone: string; units: Units },
): string {
  const since = event.endedAt === null ? null : dateOnly(event.endedAt, where)
  switch (event.state) {
    case 'open':
      return say`still there`
    case 'recovered':
      return since === null ? say`back where it was` : say`back where it was since ${since}`
    case 'kept':
      return since === null
        ? say`stayed: taken as the normal level`
        : say`stayed: taken as the normal level since ${since}`
  }
}

/** Day of the year, counted from 1, as day and month. */
export function yearDayWords(day: number, units: Units): string {
  const format = new Intl.DateTimeFormat(localeOf(units), {
    day: 'numeric',
    month: 'long',
    timeZone: 'UTC',
  })
  return format.format(Date.UTC(2023, 0, Math.round(day)))
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
  const open = events.filter(({ state }) => state === 'open').length
  if (events.length === 0) return say`No change of level was noticed in the last 400 days.`
  const [only, second] = events
  if (only !== undefined && second === undefined) {
    switch (only.state) {
      case 'open':
        return say`One change of level in the last 400 days; it is still there.`
      case 'kept':
        return say`One change of level in the last 400 days; it has become the normal level.`
      case 'recovered':
        return say`One change of level in the last 400 days; it has gone back.`
    }
  }
  const n = events.length
  if (open === 0) return say`${n} changes of level in the last 400 days, none of them still open.`
  return open === 1
    ? say`${n} changes of level in the last 400 days, one of them still open.`
    : say`${n} changes of level in the last 400 days, ${open} of them still open.`
}
