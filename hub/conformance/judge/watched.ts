import type { ChannelBody, StateBody } from '../../wire/schemas.ts'
import { decode, type Decoded } from '../../wire/payload.ts'
import type { Problem } from '../../wire/problem.ts'
import type { Deed, Happening, Purpose, SeenPacket } from '../record.ts'

type Connect = Extract<SeenPacket, { cmd: 'connect' }>

/** A message of the probe, judged as firmware must send it. */
export interface Message {
  readonly at: number
  readonly link: number
  /** Place in the order of everything that happened. */
  readonly place: number
  readonly topic: string
  readonly payload: Uint8Array
  readonly qos: number
  readonly retain: boolean
  /** As the hub takes it; null when it does not. */
  readonly decoded: Decoded | null
  /** What is wrong with it by the letter of the specification. */
  readonly problems: readonly Problem[]
}

/** A message to the probe that reached it. */
export interface Downlink {
  readonly at: number
  readonly link: number
  readonly place: number
  readonly topic: string
  readonly payload: Uint8Array
  readonly retain: boolean
  readonly purpose: Purpose | null
}

/** One connection of the probe. */
export interface Link {
  readonly index: number
  readonly openedAt: number
  connect: Connect | null
  /** The broker's answer to CONNECT; null: none came. */
  code: number | null
  /** First SUBSCRIBE that covers the probe's own downlinks: place in the order of everything. */
  subscribedPlace: number | null
  subackAt: number | null
  disconnectAt: number | null
  closedAt: number | null
  closedBy: 'probe' | 'broker' | 'check' | null
  readonly messages: Message[]
}

/** A measurement as it came, live or as a row of a batch. */
export interface Row {
  readonly boot: number
  readonly n: number
  readonly u: number
  readonly values: ReadonlyMap<string, number | null>
  readonly live: boolean
  readonly message: Message
}

/** Everything that happened, put in order for the judges. */
export interface Watched {
  readonly probe: string
  readonly happenings: readonly Happening[]
  readonly links: readonly Link[]
  readonly messages: readonly Message[]
  readonly downlinks: readonly Downlink[]
  readonly rows: readonly Row[]
  readonly deeds: readonly { readonly at: number; readonly place: number; readonly deed: Deed }[]
  readonly endedAt: number
}

/** Puts what happened in order: links, messages both ways, measurements. */
export function watched(probe: string, happenings: readonly Happening[]): Watched {
  const links: Link[] = []
  const messages: Message[] = []
  const downlinks: Downlink[] = []
  const rows: Row[] = []
  const deeds: { at: number; place: number; deed: Deed }[] = []
  for (const [place, one] of happenings.entries()) {
    if (one.kind === 'opened') links.push(newLink(one.link, one.at))
    if (one.kind === 'deed') deeds.push({ at: one.at, place, deed: one.deed })
    if (!('link' in one)) continue
    const link = links.find(({ index }) => index === one.link)
    if (link === undefined) continue
    if (one.kind === 'closed') {
      link.closedAt = one.at
      link.closedBy = one.by
    }
    if (one.kind === 'down') {
      const { packet, at, purpose } = one
      if (packet.cmd === 'connack') link.code = packet.code
      if (packet.cmd === 'suback') link.subackAt ??= at
      if (packet.cmd === 'publish') {
        const { topic, payload, retain } = packet
        downlinks.push({ at, link: link.index, place, topic, payload, retain, purpose })
      }
    }
    if (one.kind !== 'up') continue
    const { packet, at } = one
    if (packet.cmd === 'connect') link.connect ??= packet
    if (packet.cmd === 'disconnect') link.disconnectAt ??= at
    if (packet.cmd === 'subscribe' && packet.filters.includes(`lm1/${probe}/dn/#`))
      link.subscribedPlace ??= place
    if (packet.cmd !== 'publish') continue
    const strict = decode(packet.topic, packet.payload, { strict: true })
    const taken = decode(packet.topic, packet.payload)
    const message: Message = {
      at,
      link: link.index,
      place,
      topic: packet.topic,
      payload: packet.payload,
      qos: packet.qos,
      retain: packet.retain,
      decoded: 'kind' in taken ? taken : null,
      problems: 'problems' in strict ? strict.problems : strict.notes,
    }
    messages.push(message)
    link.messages.push(message)
    rows.push(...rowsOf(message))
  }
  const endedAt = happenings.at(-1)?.at ?? 0
  return { probe, happenings, links, messages, downlinks, rows, deeds, endedAt }
}

const newLink = (index: number, openedAt: number): Link => ({
  index,
  openedAt,
  connect: null,
  code: null,
  subscribedPlace: null,
  subackAt: null,
  disconnectAt: null,
  closedAt: null,
  closedBy: null,
  messages: [],
})

function rowsOf(message: Message): Row[] {
  const { decoded } = message
  if (decoded?.kind === 'reading') {
    const { b, n, u, v } = decoded.body
    const values = new Map(Object.entries(v))
    return [{ boot: b, n, u, values, live: true, message }]
  }
  if (decoded?.kind !== 'batch') return []
  const { b, c, r } = decoded.body
  return r.map(([n, u, ...values]) => ({
    boot: b,
    n: n ?? 0,
    u: u ?? 0,
    values: new Map(c.map((name, i) => [name, values[i] ?? null])),
    live: false,
    message,
  }))
}

/** Links the broker let in. */
export const openLinks = ({ links }: Watched): readonly Link[] =>
  links.filter(({ code }) => code === 0)

export type OfKind<K extends Decoded['kind']> = Message & {
  readonly decoded: Extract<Decoded, { kind: K }>
}

/** Messages of one kind that the hub could use. */
export function ofKind<K extends Decoded['kind']>(
  messages: readonly Message[],
  kind: K,
): readonly OfKind<K>[] {
  return messages.filter((one): one is OfKind<K> => one.decoded?.kind === kind)
}

/** States of one word, in the order they came. */
export const states = (
  messages: readonly Message[],
  word: StateBody['s'],
): readonly OfKind<'state'>[] =>
  ofKind(messages, 'state').filter(({ decoded }) => decoded.body.s === word)

/** The newest description of every channel. */
export function described({ messages }: Watched): ReadonlyMap<string, ChannelBody> {
  return new Map(ofKind(messages, 'channel').map(({ decoded: d }) => [d.channel, d.body]))
}

/** Channels the newest birth lists; null: no birth came. */
export function listed({ messages }: Watched): readonly string[] | null {
  return ofKind(messages, 'birth').at(-1)?.decoded.body.ch.split(',') ?? null
}

/** Channels with the electrode's voltage. */
export function electrodes(all: Watched): readonly string[] {
  const names = Array.from(described(all)).filter(([, { q }]) => q === 'ph.emf')
  return names.length > 0 ? names.map(([name]) => name) : ['phmv']
}

/** Whether the probe claims to keep readings, or showed that it does. */
export function buffers({ messages }: Watched): boolean {
  return (
    ofKind(messages, 'batch').length > 0 ||
    ofKind(messages, 'birth').some(
      ({ decoded: { body } }) =>
        (body.buf ?? 0) > 0 || (body.x ?? '').split('+').some((name) => name === 'B'),
    )
  )
}

/** Acknowledgements that reached the probe, of its own topic. */
export function acknowledgements(
  all: Watched,
): readonly (Downlink & { readonly b: number; readonly n: number })[] {
  return all.downlinks.flatMap((one) => {
    if (one.topic !== `lm1/${all.probe}/dn/ack`) return []
    const decoded = decode(one.topic, one.payload)
    return 'kind' in decoded && decoded.kind === 'ack' ? [{ ...one, ...decoded.body }] : []
  })
}

/** Numbers that came of every boot, as 'boot:n', also in messages that could not be used. */
export function arrived({ rows, messages }: Watched): ReadonlySet<string> {
  const came = new Set(rows.map(({ boot, n }) => `${boot}:${n}`))
  for (const { decoded, topic, payload } of messages) {
    if (decoded !== null || !/\/up\/[rb]$/.test(topic)) continue
    const text = Buffer.from(payload).toString('latin1')
    const boot = /"b":(\d+)/.exec(text)?.[1]
    const numbers = topic.endsWith('r') ? text.matchAll(/"n":(\d+)/g) : text.matchAll(/\[(\d+),/g)
    for (const [, n] of numbers) if (boot !== undefined) came.add(`${boot}:${n ?? ''}`)
  }
  return came
}

/** True when it sent a batch that could not be used: what it holds back is not known then. */
export const unreadableBatches = ({ messages }: Watched): boolean =>
  messages.some(({ decoded, topic }) => decoded === null && topic.endsWith('/up/b'))
