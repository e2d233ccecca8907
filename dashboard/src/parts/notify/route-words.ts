import type { MessageView, RouteView } from '../../../../hub/api/schemas/message.ts'
import type { Garden } from '../../../../hub/api/schemas/garden.ts'
import { ALARM_WORDS, dateTime } from '../../format.ts'
import { midSentence, said, say, toSay } from '../../say.ts'

export const PRIORITY_OPTIONS = [
  { value: 'low', words: toSay('every alarm') },
  { value: 'medium', words: toSay('medium and high urgency') },
  { value: 'high', words: toSay('high urgency only') },
] as const

export const TELLS_OPTIONS = [
  { value: 'raised', words: toSay('that an alarm was raised') },
  { value: 'ended', words: toSay('also that it is back to normal') },
  { value: 'all', words: toSay('every change of it') },
] as const

/** Where a route leads. */
export function whereWords({ target, topic }: RouteView): string {
  switch (target.way) {
    case 'e-mail':
      return say`E-mail to ${target.to}, by ${target.host}`
    case 'webhook':
      return say`Webhook at ${new URL(target.url).host}`
    case 'push':
      return say`A browser, by ${target.service}`
    case 'mqtt':
      return say`MQTT, on ${topic ?? ''}`
  }
}

const minutes = (n: number): string =>
  n % 60 === 0 && n >= 60
    ? n === 60
      ? say`one hour`
      : say`${n / 60} hours`
    : n === 1
      ? say`one minute`
      : say`${n} minutes`

const listed = (words: readonly string[]): string => words.join(', ')

function whichWords(route: RouteView, beds: ReadonlyMap<number, string>): string[] {
  const { kinds, leastPriority } = route
  const words: string[] = []
  if (kinds !== null) {
    words.push(say`Only: ${listed(kinds.map((kind) => said(ALARM_WORDS[kind])))}.`)
  }
  if (route.beds !== null) {
    const names = route.beds.map((id) => beds.get(id) ?? say`bed ${id}`)
    words.push(say`Only of: ${listed(names)}.`)
  }
  if (leastPriority === 'medium') words.push(say`Only alarms of medium or high urgency.`)
  if (leastPriority === 'high') words.push(say`Only alarms of high urgency.`)
  return words
}

function whenWords(route: RouteView): string {
  const { digestAt, atOnceFrom } = route
  if (digestAt === null || atOnceFrom === 'low') return say`Everything at once.`
  return atOnceFrom === 'high'
    ? say`Alarms of high urgency at once, the rest at ${digestAt}.`
    : say`Alarms of medium and high urgency at once, the rest at ${digestAt}.`
}

function quietWords({ quiet }: RouteView): string[] {
  if (quiet === null) return []
  const { from, to, letThrough } = quiet
  switch (letThrough) {
    case null:
      return [say`Quiet from ${from} to ${to}; then everything as one message.`]
    case 'high':
      return [say`Quiet from ${from} to ${to} but for alarms of high urgency.`]
    case 'medium':
      return [say`Quiet from ${from} to ${to} but for alarms of medium and high urgency.`]
    case 'low':
      return [say`Quiet hours from ${from} to ${to} that let everything through.`]
  }
}

/** What a route tells and when, as sentences. */
export function routeSentences(
  route: RouteView,
  routes: readonly RouteView[],
  beds: ReadonlyMap<number, string>,
): string[] {
  const { gatherMin, repeatMin, escalate, mostPerHour } = route
  const other = routes.find(({ id }) => id === escalate?.to)?.name ?? ''
  return [
    whenWords(route),
    ...whichWords(route, beds),
    ...quietWords(route),
    ...(gatherMin > 0
      ? [say`Gathered: what happens in a bed within ${minutes(gatherMin)} is one message.`]
      : []),
    ...(repeatMin === null
      ? []
      : [say`Told again after ${minutes(repeatMin)} without an acknowledgement.`]),
    ...(escalate === null
      ? []
      : [say`After ${minutes(escalate.afterMin)} without an acknowledgement also by '${other}'.`]),
    mostPerHour === 1
      ? say`At most one message an hour; more become one.`
      : say`At most ${mostPerHour} messages an hour; more become one.`,
  ]
}

/** Whether a route sends now, in words; empty while it simply does. */
export function stateWords(route: RouteView, now: number, garden: Garden): string {
  if (!route.on) return say`switched off`
  const { pausedUntil } = route
  return pausedUntil !== null && pausedUntil > now
    ? say`paused until ${dateTime(pausedUntil, garden)}`
    : ''
}

/** How a message got on. */
export function messageWords(message: MessageView, garden: Garden): string {
  const { state, sentAt, nextTryAt, tries, answer } = message
  const why = answer ?? ''
  switch (state) {
    case 'waiting':
      return say`waiting`
    case 'sending':
      return say`on its way`
    case 'sent':
      return say`sent ${dateTime(sentAt ?? message.madeAt, garden)}`
    case 'failed':
      if (nextTryAt === null) return say`not sent: ${why}. The next try is due.`
      return tries === 1
        ? say`not sent: ${why}. Tried once, next try ${dateTime(nextTryAt, garden)}.`
        : say`not sent: ${why}. Tried ${tries} times, next try ${dateTime(nextTryAt, garden)}.`
    case 'given-up':
      return say`given up: ${why}`
  }
}

export const HELD_WORDS = {
  digest: toSay('summary of the day'),
  quiet: toSay('kept for the end of the quiet hours'),
  pause: toSay('kept during a pause'),
  flood: toSay('many at once'),
} as const

/** What a test showed. */
export function testWords({ what, answer }: { what: string; answer: string }): string {
  switch (what) {
    case 'sent':
      return say`The other side took it and answered: ${answer}`
    case 'unsure':
      return say`The line broke before an answer came, it may have arrived: ${answer}`
    default:
      return say`It did not arrive: ${answer}`
  }
}

/** Kinds of alarms to choose from. */
export const kindOptions = (): { readonly value: string; readonly words: string }[] =>
  Object.entries(ALARM_WORDS).map(([value, words]) => ({ value, words: midSentence(said(words)) }))
