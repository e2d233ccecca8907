import { HubError } from '../errors.ts'
import { MINUTE, SECOND } from '../model/clock.ts'
import type { Channel } from '../model/probe.ts'
import type { GardenStore, ProbeNews } from '../store/garden-store.ts'
import { describedChannel, guessChannel } from '../wire/channels.ts'
import type { Decoded } from '../wire/payload.ts'

/** Channels one probe may have; more is a fault of its firmware. */
export const MAX_CHANNELS_PER_PROBE = 16
/** A probe that only sends readings is noted as seen this often. */
const SEEN_EVERY_MS = 10 * SECOND
/** Such notes are made together, this often. */
const NOTE_EVERY_MS = SECOND
/** Arrivals differ by less between two batches unless the clock was set back. */
const SET_BACK_MS = 2 * MINUTE

interface Item {
  readonly arrival: { readonly arrivedAt: number; readonly retain: boolean }
  readonly message: Decoded
}

export interface Heard {
  /** Why an item must not be used, or null. */
  readonly refused: (item: Item) => string | null
  /** Probes that were noted. */
  readonly heard: readonly string[]
}

/** Nothing new was heard. */
const NOTHING: Heard = { refused: () => null, heard: [] }

/** Passes on what messages say of the probes themselves: state, description, channels, last seen. */
export interface Hearing {
  hear(items: readonly Item[]): Promise<Heard>
  /** Notes that probes were seen which told nothing else of themselves; to those noted. */
  noteSeen(): Promise<readonly string[]>
  /** Whether the garden knows a probe, as far as it was heard: taken in, or one of those that wait. */
  knows(probe: string): boolean
  /** Forgets what it knows of the garden; it is read again. */
  forget(): void
}

interface Known {
  /** Last seen as the garden knows it, epoch ms; null for a probe never heard of. */
  seenAt: number | null
  /** Newest arrival of readings that told nothing else, epoch ms. */
  readAt: number
  readonly channels: Set<string>
}

type News = { -readonly [K in keyof ProbeNews]: ProbeNews[K] } & {
  channels: Omit<Channel, 'probe'>[]
}

export function createHearing(
  garden: GardenStore,
  maxStrangers: number,
  before: readonly string[] = [],
): Hearing {
  const known = new Map<string, Known>()
  /** Stays while the garden is read again: what it knows is no news. */
  const met = new Set(before)

  async function knownOf(id: string): Promise<Known> {
    const found = known.get(id)
    if (found !== undefined) return found
    const [probe, channels] = await Promise.all([garden.probe(id), garden.channels(id)])
    return {
      seenAt: probe?.lastSeenAt ?? null,
      readAt: -Infinity,
      channels: new Set(channels.map((channel) => channel.name)),
    }
  }

  /** Probes that were seen and nothing else, not noted yet, and since when. */
  const seen = new Map<string, Known>()
  let notedAt = -Infinity

  /** Whether an item tells no more than that its probe is alive; remembers that. */
  function isRoutine({ message, arrival }: Item): boolean {
    if (message.kind !== 'reading' || arrival.retain) return false
    const know = known.get(message.probe)
    if (know === undefined || know.seenAt === null) return false
    if (isSetBack({ at: arrival.arrivedAt }, know)) return false
    for (const name in message.body.v) if (!know.channels.has(name)) return false
    if (arrival.arrivedAt > know.readAt) know.readAt = arrival.arrivedAt
    if (know.readAt - know.seenAt >= SEEN_EVERY_MS) seen.set(message.probe, know)
    return true
  }

  /** Notes together, at most once in a while, what was seen. While the garden's store is away it waits. */
  async function noteSeen(): Promise<readonly string[]> {
    let newest = -Infinity
    for (const { readAt } of seen.values()) newest = Math.max(newest, readAt)
    if (seen.size === 0 || Math.abs(newest - notedAt) < NOTE_EVERY_MS) return []
    notedAt = newest
    const noted = Array.from(seen, ([id, know]) => ({ id, know, at: know.readAt }))
    seen.clear()
    try {
      const { refused } = await garden.hear(
        noted.map(({ id, at }) => ({ id, at })),
        maxStrangers,
      )
      for (const { know, at } of noted) know.seenAt = Math.max(know.seenAt ?? 0, at)
      // Somebody has removed it, and it speaks on: it is looked at anew.
      for (const id of refused) {
        known.delete(id)
        met.delete(id)
      }
      return noted.map(({ id }) => id).filter((id) => !refused.includes(id))
    } catch (error) {
      // Seen again, it is noted again.
      if (!(error instanceof HubError)) throw error
      return []
    }
  }

  return {
    async hear(all) {
      const items = all.filter((item) => !isRoutine(item))
      if (items.length === 0) return NOTHING
      const crowded = new Map<Item, string>()
      const newsOf = new Map<string, { news: News; know: Known; names: Set<string> }>()
      for (const item of items) {
        const { message, arrival } = item
        let entry = newsOf.get(message.probe)
        if (entry === undefined) {
          const know = await knownOf(message.probe)
          // A copy the broker kept does not show that the probe is alive now.
          const at = arrival.retain ? (know.seenAt ?? arrival.arrivedAt) : arrival.arrivedAt
          entry = {
            news: { id: message.probe, at, channels: [] },
            know,
            names: new Set(know.channels),
          }
          newsOf.set(message.probe, entry)
        }
        const { news, names } = entry
        const fresh = channelsIn(message).filter((name) => !names.has(name))
        if (names.size + fresh.length > MAX_CHANNELS_PER_PROBE) {
          crowded.set(
            item,
            `channels: expected at most ${MAX_CHANNELS_PER_PROBE} from one probe, got ` +
              `${fresh.join(', ')} on top of ${names.size} [LM-08]`,
          )
          continue
        }
        for (const name of fresh) {
          names.add(name)
          if (message.kind !== 'channel') news.channels.push(guessChannel(name))
        }
        if (!arrival.retain) news.at = Math.max(news.at, arrival.arrivedAt)
        describe(news, item)
      }

      const worth = [...newsOf.values()].filter(
        ({ news, know }) =>
          know.seenAt === null ||
          news.channels.length > 0 ||
          Object.keys(news).length > 3 ||
          news.at - know.seenAt >= SEEN_EVERY_MS ||
          isSetBack(news, know),
      )
      const refused = new Set(
        worth.length === 0
          ? []
          : (
              await garden.hear(
                worth.map(({ news, know }) => ({
                  ...tidy(news),
                  ...(isSetBack(news, know) ? { clockSetBack: true } : {}),
                })),
                maxStrangers,
              )
            ).refused,
      )
      for (const { news, know, names } of worth) {
        if (refused.has(news.id)) {
          met.delete(news.id)
          continue
        }
        met.add(news.id)
        const seenAt = isSetBack(news, know) ? news.at : Math.max(know.seenAt ?? 0, news.at)
        known.set(news.id, { seenAt, readAt: -Infinity, channels: names })
        seen.delete(news.id)
      }
      for (const [id, { know }] of newsOf) {
        if (know.seenAt === null || known.has(id)) continue
        known.set(id, know)
        met.add(id)
      }
      return {
        refused: (item) =>
          crowded.get(item) ??
          (refused.has(item.message.probe)
            ? `${item.message.probe}: ${maxStrangers} unknown probes wait to be adopted already; ` +
              'adopt some, or find out what is sending'
            : null),
        heard: worth.map(({ news }) => news.id).filter((id) => !refused.has(id)),
      }
    },
    noteSeen,
    knows: (probe) => met.has(probe),
    forget() {
      known.clear()
      seen.clear()
    },
  }
}

const isSetBack = (news: { readonly at: number }, know: Known): boolean =>
  know.seenAt !== null && know.seenAt - news.at > SET_BACK_MS

function channelsIn(message: Decoded): readonly string[] {
  switch (message.kind) {
    case 'reading':
      return Object.keys(message.body.v)
    case 'batch':
      return message.body.c
    case 'birth':
      return message.body.ch.split(',')
    case 'channel':
    case 'plain':
      return [message.channel]
    case 'state':
    case 'result':
    case 'ack':
    case 'cfg':
    case 'cmd':
    case 'time':
      return []
  }
}

function describe(news: News, { message, arrival }: Item): void {
  if (message.kind === 'state') {
    const { s, nx } = message.body
    news.state = s
    news.expectedAt = s === 'sleep' && nx !== undefined ? arrival.arrivedAt + nx * SECOND : null
  } else if (message.kind === 'birth') {
    news.firmware = message.body.fw
    news.hardware = message.body.hw ?? null
    news.intervalS = message.body.iv
  } else if (message.kind === 'channel') {
    news.channels = news.channels.filter((channel) => channel.name !== message.channel)
    news.channels.push(describedChannel(message.channel, message.body))
  }
}

function tidy(news: News): ProbeNews {
  const { channels, ...rest } = news
  return channels.length === 0 ? rest : { ...rest, channels }
}
