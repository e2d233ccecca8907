import { clipped } from './problem.ts'
import type { Problem } from './problem.ts'

/** First level of every topic: name and major version of the wire format. */
export const PREFIX = 'lm1'
export const PROBE_ID = /^[a-z][a-z0-9]{2,22}$/
export const CHANNEL_NAME = /^[a-z][a-z0-9]{0,7}$/
/** Ids no probe may have: they stand for something else in the topic tree. */
export const RESERVED_IDS: readonly string[] = ['hub', 'test', 'pair']

const UP_LEAVES = ['r', 'b', 'state', 'birth', 'res', 's'] as const
const DOWN_LEAVES = ['ack', 'cfg', 'cmd', 'time'] as const
const CHANNEL_LEAVES = ['ch', 'v'] as const

/** A place in the topic tree. */
export type Topic =
  | { readonly to: 'hub'; readonly probe: string; readonly leaf: (typeof UP_LEAVES)[number] }
  | {
      readonly to: 'hub'
      readonly probe: string
      readonly leaf: (typeof CHANNEL_LEAVES)[number]
      readonly channel: string
    }
  | { readonly to: 'probe'; readonly probe: string; readonly leaf: (typeof DOWN_LEAVES)[number] }
  | { readonly to: 'all'; readonly leaf: 'state' }
  | { readonly to: 'all'; readonly leaf: 'alerts'; readonly subject: string; readonly rule: string }

/** The topic as it stands in a packet. */
export function formatTopic(topic: Topic): string {
  switch (topic.to) {
    case 'hub':
      return 'channel' in topic
        ? `${PREFIX}/${topic.probe}/up/${topic.leaf}/${topic.channel}`
        : `${PREFIX}/${topic.probe}/up/${topic.leaf}`
    case 'probe':
      return `${PREFIX}/${topic.probe}/dn/${topic.leaf}`
    case 'all':
      return topic.leaf === 'state'
        ? `${PREFIX}/hub/state`
        : `${PREFIX}/hub/alerts/${topic.subject}/${topic.rule}`
  }
}

/** Reads a topic, or says what is wrong with it. */
export function parseTopic(text: string): Topic | { readonly problems: readonly Problem[] } {
  const [prefix, owner, direction, leaf, last, ...rest] = text.split('/')
  if (prefix !== PREFIX) return wrong(text, `a topic that begins with ${PREFIX}/`, 'LM-30')
  if (owner === 'hub') {
    if (direction === 'state' && leaf === undefined) return { to: 'all', leaf: 'state' }
    if (direction === 'alerts' && leaf && last && rest.length === 0)
      return { to: 'all', leaf: 'alerts', subject: leaf, rule: last }
    return wrong(text, `${PREFIX}/hub/state or ${PREFIX}/hub/alerts/{id}/{rule}`, 'LM-30')
  }
  if (owner === undefined || !PROBE_ID.test(owner) || RESERVED_IDS.includes(owner))
    return wrong(
      text,
      `a probe id of 3 to 23 lower-case letters and digits, a letter first, other than ` +
        `${RESERVED_IDS.join(', ')}, as second level`,
      'LM-02',
    )
  if (direction === 'up' && rest.length === 0) {
    if (last === undefined && isOneOf(UP_LEAVES, leaf)) return { to: 'hub', probe: owner, leaf }
    if (isOneOf(CHANNEL_LEAVES, leaf)) {
      if (last !== undefined && CHANNEL_NAME.test(last))
        return { to: 'hub', probe: owner, leaf, channel: last }
      return wrong(
        text,
        `up/${leaf}/ and a channel name of 1 to 8 lower-case letters and digits, a letter first`,
        'LM-08',
      )
    }
  }
  if (direction === 'dn' && last === undefined && isOneOf(DOWN_LEAVES, leaf))
    return { to: 'probe', probe: owner, leaf }
  return wrong(
    text,
    `up/ with r, b, state, birth, ch/{channel}, res, v/{channel}, or dn/ with ack, cfg, cmd, time`,
    'LM-30',
  )
}

function isOneOf<T extends string>(list: readonly T[], text: string | undefined): text is T {
  return (list as readonly (string | undefined)[]).includes(text)
}

function wrong(topic: string, expected: string, clause: string): { problems: Problem[] } {
  const message = `topic: expected ${expected}, got ${JSON.stringify(clipped(topic, 60))}`
  return { problems: [{ path: 'topic', clause, message }] }
}
