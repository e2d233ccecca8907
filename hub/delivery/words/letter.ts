import type { Alarm } from '../../model/alarm.ts'
import type { MessageHold, MessageItem } from '../../model/route.ts'
import { locale } from '../../words/figure.ts'
import { said, say, toSay } from '../../words/say.ts'
import { KIND_WORDS } from '../../alerts/kind-words.ts'
import { STATE_WORDS } from './state-words.ts'

/** A message in words, still without a form. */
export interface Letter {
  /** One line without control characters. */
  readonly subject: string
  /** Why it looks as it does; empty where that is plain. */
  readonly lead: string
  readonly places: readonly {
    readonly name: string
    readonly entries: readonly {
      readonly title: string
      readonly sentence: string
      readonly advice: string
      /** When it happened, and why it is told. */
      readonly notes: readonly string[]
    }[]
  }[]
  /** Page of the hub on which the alarms stand; null when its address is not known. */
  readonly link: string | null
  readonly foot: readonly string[]
}

/** What letters are written about. */
export interface LetterContext {
  readonly garden: string
  readonly zone: string
  readonly linkBase: string | null
}

const HOLD_WORDS: Readonly<Record<MessageHold, string>> = {
  digest: toSay('What happened since the last summary.'),
  quiet: toSay('What happened in the quiet hours.'),
  pause: toSay('What happened while messages were paused.'),
  flood: toSay('So much happened within an hour that it comes as one message.'),
}

const dateTime = (at: number, zone: string): string =>
  new Intl.DateTimeFormat(locale(), {
    timeZone: zone,
    dateStyle: 'medium',
    timeStyle: 'short',
  }).format(at)

/** Text of others as one line. */
export const oneLine = (text: string): string => text.replaceAll(/\p{C}+|\s+/gu, ' ').trim()

const placeOf = ({ bed }: MessageItem): string =>
  bed === null ? said(toSay('Hub and probes')) : oneLine(bed)

function titleOf({ alarm, bed }: MessageItem): string {
  const kind = said(KIND_WORDS[alarm.kind])
  const about = bed === null && alarm.subject !== '' ? oneLine(alarm.subject) : ''
  const state = said(STATE_WORDS[alarm.state])
  return about === '' ? say`${kind}: ${state}` : say`${kind} (${about}): ${state}`
}

function subjectOf(items: readonly MessageItem[]): string {
  const places = [...new Set(items.map(placeOf))]
  const [first] = items
  if (first !== undefined && items.length === 1) {
    const what = `${places[0]!}: ${said(KIND_WORDS[first.alarm.kind])}`
    const reason = first.reasons.at(-1)
    if (reason === 'again') return say`Still not acknowledged: ${what}`
    if (reason === 'escalated') return say`Nobody has acknowledged: ${what}`
    if (reason === 'closed') return say`Over: ${what}`
    const over = first.alarm.state === 'returned' || first.alarm.state === 'normal'
    return over ? say`Back to normal: ${what}` : what
  }
  return places.length === 1
    ? say`${places[0]!}: ${items.length} alarms`
    : say`${items.length} alarms in ${places.length} places`
}

function notesOf({ alarm, reasons }: MessageItem, zone: string): string[] {
  const when = (at: number): string => dateTime(at, zone)
  const notes = [say`Raised ${when(alarm.raisedAt)}.`]
  if (alarm.acknowledgedAt !== null) notes.push(say`Acknowledged ${when(alarm.acknowledgedAt)}.`)
  if (alarm.returnedAt !== null) notes.push(say`Back to normal ${when(alarm.returnedAt)}.`)
  if (alarm.state === 'unacknowledged' && reasons.includes('again')) {
    notes.push(say`Told again because nobody has acknowledged it.`)
  }
  if (alarm.state === 'unacknowledged' && reasons.includes('escalated')) {
    notes.push(say`Told by this route too because nobody has acknowledged it.`)
  }
  return notes
}

/** Where a person sees and acknowledges these alarms. */
const pageOf = (base: string | null, alarms: readonly Alarm[]): string | null => {
  if (base === null) return null
  const beds = new Set(alarms.map(({ bedId }) => bedId))
  const [only] = beds
  return beds.size === 1 && typeof only === 'number' ? `${base}/bed/${only}` : `${base}/alarms`
}

/** A message about alarms, in the language spoken here. */
export function alarmLetter(
  message: { readonly items: readonly MessageItem[]; readonly held: MessageHold | null },
  context: LetterContext,
): Letter {
  const { items, held } = message
  const places = Map.groupBy(items, placeOf)
  return {
    subject: subjectOf(items),
    lead: held === null ? '' : said(HOLD_WORDS[held]),
    places: [...places].map(([name, of]) => ({
      name,
      entries: of.map((item) => ({
        title: titleOf(item),
        sentence: oneLine(item.alarm.sentence),
        advice: oneLine(item.alarm.advice),
        notes: notesOf(item, context.zone),
      })),
    })),
    link: pageOf(
      context.linkBase,
      items.map(({ alarm }) => alarm),
    ),
    foot: [
      say`Sent by the hub of ${oneLine(context.garden)}. Which messages come, and when, is set under Settings, Messages.`,
    ],
  }
}

/** A message that only shows that a route works. */
export function testLetter(route: string, context: LetterContext): Letter {
  return {
    subject: say`Test message of ${oneLine(context.garden)}`,
    lead: say`This is a test of '${oneLine(route)}'. Messages about alarms arrive in the same way.`,
    places: [],
    link: context.linkBase,
    foot: [],
  }
}

/** What is said on top when nobody knows whether a message arrived before. */
export const repeatNote = (): string =>
  say`This may be a repeat: the hub does not know whether the message arrived before.`
