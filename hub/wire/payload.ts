import { explain, whyNotJson } from './explain.ts'
import { clipped, shown } from './problem.ts'
import type { Problem } from './problem.ts'
import { quickReading } from './quick-reading.ts'
import { brokenRules } from './rules.ts'
import { STRICT, TOLERANT } from './schemas.ts'
import type {
  AckBody,
  BatchBody,
  BirthBody,
  CfgBody,
  ChannelBody,
  CmdBody,
  Kind,
  ReadingBody,
  ResultBody,
  StateBody,
  TimeBody,
} from './schemas.ts'
import { parseTopic } from './topic.ts'
import type { Topic } from './topic.ts'

/** Largest topic + payload a probe may send, bytes (LM-03). */
export const PROBE_LIMIT_BYTES = 249
/** Largest payload the hub looks at, bytes. */
export const HUB_LIMIT_BYTES = 4096

/** What the hub lets pass although it breaks the specification. */
interface Noted {
  readonly notes: readonly Problem[]
}

/** A message that could be used. */
export type Decoded = Noted &
  (
    | { readonly kind: 'reading'; readonly probe: string; readonly body: ReadingBody }
    | { readonly kind: 'batch'; readonly probe: string; readonly body: BatchBody }
    | { readonly kind: 'state'; readonly probe: string; readonly body: StateBody }
    | { readonly kind: 'birth'; readonly probe: string; readonly body: BirthBody }
    | {
        readonly kind: 'channel'
        readonly probe: string
        readonly channel: string
        readonly body: ChannelBody
      }
    | { readonly kind: 'result'; readonly probe: string; readonly body: ResultBody }
    /** A plain number: `value` is null when the sensor failed. */
    | {
        readonly kind: 'plain'
        readonly probe: string
        readonly channel: string
        readonly value: number | null
      }
    | { readonly kind: 'ack'; readonly probe: string; readonly body: AckBody }
    | { readonly kind: 'cfg'; readonly probe: string; readonly body: CfgBody }
    | { readonly kind: 'cmd'; readonly probe: string; readonly body: CmdBody }
    | { readonly kind: 'time'; readonly probe: string; readonly body: TimeBody }
  )

export interface Undecodable {
  readonly problems: readonly Problem[]
}

export interface DecodeOptions {
  /**
   * Judge as firmware must send it: members the format does not know, and more than 249 bytes, are
   * problems. Otherwise as the hub takes it: those are only noted.
   * @default false
   */
  readonly strict?: boolean
}

const BODY_OF = {
  r: 'reading',
  b: 'batch',
  state: 'state',
  birth: 'birth',
  ch: 'channel',
  res: 'result',
  ack: 'ack',
  cfg: 'cfg',
  cmd: 'cmd',
  time: 'time',
} as const

const PLAIN_NUMBER = /^-?\d+(\.\d+)?([eE][+-]?\d+)?$/
const utf8 = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true })

const NO_NOTES: readonly Problem[] = []
/** By the topics of live readings: whose they are, and the channels of the last one. */
const readingTopics = new Map<string, { readonly probe: string; readonly channels: string[] }>()
const MOST_TOPICS = 10_000

/** Reads one message of a probe or to a probe. Never throws: says what is wrong instead. */
export function decode(
  topicText: string,
  payload: Uint8Array,
  options: DecodeOptions = {},
): Decoded | Undecodable {
  const known = readingTopics.get(topicText)
  if (known !== undefined && topicText.length + payload.length <= PROBE_LIMIT_BYTES) {
    const body = quickReading(payload, known.channels)
    if (body !== null) return { kind: 'reading', probe: known.probe, body, notes: NO_NOTES }
  }
  return decodeBySchema(topicText, payload, options)
}

/** The same without a short cut for readings that have nothing unusual in them. */
export function decodeBySchema(
  topicText: string,
  payload: Uint8Array,
  options: DecodeOptions = {},
): Decoded | Undecodable {
  const topic = parseTopic(topicText)
  if ('problems' in topic) return topic
  if (topic.to === 'hub' && topic.leaf === 'r') {
    if (readingTopics.size >= MOST_TOPICS) readingTopics.clear()
    if (!readingTopics.has(topicText))
      readingTopics.set(topicText, { probe: topic.probe, channels: [] })
  }
  if (topic.to === 'all') {
    return {
      problems: [problem('topic', 'LM-30', `topic: ${topicText} is written by the hub only`)],
    }
  }
  if (payload.length > HUB_LIMIT_BYTES) {
    const message = `payload: expected at most ${HUB_LIMIT_BYTES} bytes, got ${payload.length}`
    return { problems: [problem('payload', 'LM-03', message)] }
  }
  const strict = options.strict ?? false
  const notes: Problem[] = []
  const size = topicText.length + payload.length
  if (topic.to === 'hub' && size > PROBE_LIMIT_BYTES) {
    const message =
      `payload: expected topic and payload of at most ${PROBE_LIMIT_BYTES} bytes together, ` +
      `got ${size}`
    notes.push(problem('payload', 'LM-03', message))
  }
  const text = asText(payload)
  if (text === null) {
    return {
      problems: [problem('payload', 'LM-10', 'payload: expected UTF-8 text, got other bytes')],
    }
  }
  const decoded = decodeText(topic, text, notes, strict)
  if ('problems' in decoded || !strict || notes.length === 0) return decoded
  return { problems: notes }
}

function decodeText(
  topic: Exclude<Topic, { to: 'all' }>,
  text: string,
  notes: Problem[],
  strict: boolean,
): Decoded | Undecodable {
  if (topic.leaf === 's') {
    const message =
      'topic: up/s (SenML) is not part of the accepted profiles yet; the message is kept but not ' +
      'read. Send readings to up/r'
    return { problems: [problem('topic', 'LM-10', message)] }
  }
  if (topic.leaf === 'v') return decodePlain(topic, text, notes)

  let json: unknown
  try {
    json = JSON.parse(text)
  } catch {
    return { problems: [problem('payload', 'LM-10', whyNotJson(text))] }
  }
  const trap = prototypeMember(json)
  if (trap !== null) {
    const message = `${trap}: a member of this name cannot be used`
    return { problems: [problem(trap, 'LM-10', message)] }
  }
  const kind = BODY_OF[topic.leaf]
  const parsed = (strict ? STRICT : TOLERANT)[kind].safeParse(json)
  if (!parsed.success) {
    return { problems: parsed.error.issues.map((issue) => explain(kind, issue, json)) }
  }
  const broken = brokenRules(kind, parsed.data, topic)
  if (broken.problems.length > 0) return { problems: broken.problems }
  notes.push(...broken.notes)
  return assemble(kind, topic, parsed.data, notes)
}

function assemble(
  kind: Kind,
  topic: Exclude<Topic, { to: 'all' }>,
  body: unknown,
  notes: readonly Problem[],
): Decoded {
  const channel = 'channel' in topic ? { channel: topic.channel } : {}
  // The schema of `kind` has just been applied to `body`; the compiler cannot follow that link.
  return { kind, probe: topic.probe, ...channel, body, notes } as Decoded
}

function decodePlain(
  topic: { readonly probe: string; readonly channel: string },
  text: string,
  notes: readonly Problem[],
): Decoded | Undecodable {
  const plain = text.trim()
  const value = plain === 'null' ? null : PLAIN_NUMBER.test(plain) ? Number(plain) : NaN
  if (value !== null && !(Math.abs(value) <= 1e9)) {
    const message =
      'payload: expected one number with a decimal point, or null for a failed sensor, ' +
      `got ${plain === '' ? 'nothing' : shown(clipped(plain, 40))}`
    return { problems: [problem('payload', 'LM-10', message)] }
  }
  return { kind: 'plain', probe: topic.probe, channel: topic.channel, value, notes }
}

function asText(payload: Uint8Array): string | null {
  try {
    return utf8.decode(payload)
  } catch {
    return null
  }
}

/** Path of a member called `__proto__`, which object code drops or misuses in silence; null if none. */
function prototypeMember(json: unknown, path = ''): string | null {
  if (typeof json !== 'object' || json === null) return null
  for (const [name, member] of Object.entries(json)) {
    const here = path === '' ? name : `${path}.${name}`
    if (name === '__proto__') return here
    const deeper = prototypeMember(member, here)
    if (deeper !== null) return deeper
  }
  return null
}

function problem(path: string, clause: string, message: string): Problem {
  return { path, clause, message }
}

/*
 * Encoding. Members come out in the order of the specification, so that the same body is the same text.
 * A value that is not finite becomes null: the sensor failed.
 */

const MEMBERS = {
  reading: ['b', 'n', 'u', 't', 'f', 'v', 's'],
  batch: ['b', 'nb', 'u', 't', 'c', 'r'],
  state: ['s', 'b', 'u', 'nx'],
  birth: ['p', 'fw', 'hw', 'b', 'u', 'iv', 'ch', 'cv', 'buf', 'x'],
  channel: ['q', 'u', 'd', 'lo', 'hi', 'lsb', 'from', 'a', 'z', 'tc', 'cv', 'sn'],
  ack: ['b', 'n'],
  time: ['t'],
  cfg: ['cv', 'iv', 'ns', 'st'],
  cmd: ['id', 'do', 'b', 'n', 'k'],
  result: ['id', 'ok', 'cv', 'e'],
} as const

function encode(kind: keyof typeof MEMBERS, body: object): string {
  const given = body as Readonly<Record<string, unknown>>
  const ordered: Record<string, unknown> = {}
  for (const member of MEMBERS[kind]) {
    if (given[member] !== undefined) ordered[member] = given[member]
  }
  return JSON.stringify(ordered)
}

export const encodeReading = (body: ReadingBody): string => encode('reading', body)
export const encodeBatch = (body: BatchBody): string => encode('batch', body)
export const encodeState = (body: StateBody): string => encode('state', body)
export const encodeBirth = (body: BirthBody): string => encode('birth', body)
export const encodeChannel = (body: ChannelBody): string => encode('channel', body)
export const encodeAck = (body: AckBody): string => encode('ack', body)
export const encodeTime = (body: TimeBody): string => encode('time', body)
export const encodeCfg = (body: CfgBody): string => encode('cfg', body)
export const encodeCmd = (body: CmdBody): string => encode('cmd', body)
export const encodeResult = (body: ResultBody): string => encode('result', body)
/** `null` says that the sensor failed. */
export const encodePlain = (value: number | null): string =>
  value === null || !Number.isFinite(value) ? 'null' : String(value)
