import type { Readable } from 'node:stream'

/** What the broker library keeps in memory: as much of it as is bounded here. */
export interface BrokerMemory {
  storeRetained(packet: Kept): Promise<void>
  addSubscriptions(client: Who, filters: readonly unknown[]): Promise<void>
  cleanSubscriptions(client: Who): Promise<unknown>
  outgoingEnqueueCombi(subscribers: readonly Subscriber[], packet: Kept): Promise<void>
  outgoingStream(client: Who): Readable
  incomingStorePacket(client: Who, packet: Kept): Promise<void>
  incomingDelPacket(client: Who, packet: Kept): Promise<void>
  cleanIncoming(client: Who): Promise<void>
}
interface Kept {
  readonly topic: string
  readonly payload: Uint8Array | string
  readonly messageId?: number
}
interface Who {
  readonly id: string
}
interface Subscriber {
  readonly clientId: string
}

export interface MemoryLimits {
  /** Bytes of messages of clients that stand retained; the hub's own are not counted. @default 32 MiB */
  readonly retainedBytes?: number
  /** Sessions that outlive their connection. @default 5000 */
  readonly sessions?: number
  /** Messages that wait for one session. @default 5000 */
  readonly waiting?: number
  /** Messages that wait for all sessions together. @default 50 000 */
  readonly waitingInAll?: number
  /** Messages at QoS 2 of all clients that are not released yet. @default 5000 */
  readonly halfSent?: number
}

/** What an entry costs beside its bytes, about. */
const ENTRY_BYTES = 500
/** So many messages are turned away before it is looked again whether a session has taken some. */
const LOOK_AFTER = 200

/**
 * Bounds what clients can make the broker library keep: it has no limits of its own, so that descriptions under ever
 * new names, sessions that never come back or messages that are never released would fill the memory of the machine.
 * What is beyond a limit is not kept; it is heard by the hub and by who listens at that moment all the same.
 *
 * @param told hears once of each kind what was not kept
 */
export function boundBrokerMemory(
  memory: BrokerMemory,
  told: (sentence: string) => void,
  limits: MemoryLimits = {},
): void {
  const {
    retainedBytes = 32 * 1024 * 1024,
    sessions: mostSessions = 5000,
    waiting: mostWaiting = 5000,
    waitingInAll = 50_000,
    halfSent: mostHalfSent = 5000,
  } = limits
  const said = new Set<string>()
  const tell = (sentence: string, such = ''): void => {
    if (said.has(sentence)) return
    said.add(sentence)
    told(sentence + such)
  }

  const retained = new Map<string, number>()
  let bytes = 0
  const store = memory.storeRetained.bind(memory)
  memory.storeRetained = async (packet) => {
    const [, , direction] = packet.topic.split('/')
    if (direction !== 'up') return store(packet)
    const before = retained.get(packet.topic) ?? 0
    const size =
      packet.payload.length === 0 ? 0 : ENTRY_BYTES + packet.topic.length + packet.payload.length
    if (bytes - before + size > retainedBytes) {
      tell('no more descriptions of probes are kept for later subscribers: there are too many')
      return
    }
    bytes += size - before
    if (size === 0) retained.delete(packet.topic)
    else retained.set(packet.topic, size)
    await store(packet)
  }

  const sessions = new Set<string>()
  const [add, clean] = [
    memory.addSubscriptions.bind(memory),
    memory.cleanSubscriptions.bind(memory),
  ]
  memory.addSubscriptions = async (client, filters) => {
    if (!sessions.has(client.id) && sessions.size >= mostSessions) {
      tell(`only ${mostSessions} sessions outlive their connection: a further one does not`)
      return
    }
    sessions.add(client.id)
    await add(client, filters)
  }
  memory.cleanSubscriptions = async (client) => {
    sessions.delete(client.id)
    return clean(client)
  }

  /** By session: messages waiting when it was last looked, and how many came or were turned away since. */
  const queues = new Map<string, { waiting: number; away: number }>()
  let total = 0
  const enqueue = memory.outgoingEnqueueCombi.bind(memory)
  async function hasRoom(id: string): Promise<boolean> {
    const queue = queues.get(id) ?? { waiting: 0, away: 0 }
    queues.set(id, queue)
    const full = (): boolean => queue.waiting >= mostWaiting || total >= waitingInAll
    if (full() && queue.away++ % LOOK_AFTER === 0) {
      total -= queue.waiting
      queue.waiting = (await memory.outgoingStream({ id }).toArray()).length
      total += queue.waiting
    }
    if (full()) {
      tell(
        'no more messages wait for clients that do not fetch them',
        `, such as ${id.slice(0, 40)}`,
      )
      return false
    }
    queue.away = 0
    queue.waiting++
    total++
    return true
  }
  memory.outgoingEnqueueCombi = async (subscribers, packet) => {
    const taken: Subscriber[] = []
    for (const one of subscribers) if (await hasRoom(one.clientId)) taken.push(one)
    if (taken.length > 0) await enqueue(taken, packet)
  }

  const halves = new Map<string, Set<number>>()
  let half = 0
  const forget = (id: string, messageId?: number): void => {
    const of = halves.get(id)
    if (of === undefined) return
    half -= messageId === undefined ? of.size : Number(of.delete(messageId))
    if (messageId === undefined || of.size === 0) halves.delete(id)
  }
  const [keep, drop, wipe] = [
    memory.incomingStorePacket.bind(memory),
    memory.incomingDelPacket.bind(memory),
    memory.cleanIncoming.bind(memory),
  ]
  memory.incomingStorePacket = async (client, packet) => {
    const of = halves.get(client.id) ?? new Set()
    const number = packet.messageId ?? 0
    if (!of.has(number)) {
      if (half >= mostHalfSent) {
        tell('too many messages at QoS 2 were never released: no more are taken')
        throw new Error('too many messages at QoS 2 that were not released')
      }
      half++
      halves.set(client.id, of.add(number))
    }
    await keep(client, packet)
  }
  memory.incomingDelPacket = async (client, packet) => {
    forget(client.id, packet.messageId)
    return drop(client, packet)
  }
  memory.cleanIncoming = async (client) => {
    forget(client.id)
    return wipe(client)
  }
}
