import { HubError } from '#hub/errors.ts'
import type { Order } from '#hub/model/order.ts'
import type { Channel, Probe } from '#hub/model/probe.ts'
import type { Anchor, BootMark, IntakeBatch, Quarantined, Reading } from '#hub/model/reading.ts'
import type { GardenStore, ProbeNews } from '#hub/store/garden-store.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'

/** The part of a reading store that the ingest uses, in memory, with faults on demand. */
export interface MemoryReadings {
  readonly port: ReadingStore
  readonly readings: Map<string, Reading>
  readonly quarantined: Quarantined[]
  readonly anchors: Anchor[]
  readonly marks: Map<string, BootMark>
  readonly batches: IntakeBatch[]
  duplicates: number
  /** While true every call is refused as by a full disk. */
  down: boolean
  /** Held before an append resolves. */
  gate: Promise<void> | null
}

export function memoryReadings(): MemoryReadings {
  const port: Pick<ReadingStore, 'append' | 'recall'> = {
    async append(batch) {
      if (memory.gate !== null) await memory.gate
      if (memory.down) throw new HubError('HUB_STORE_UNAVAILABLE', 'disk full', { retry: true })
      memory.batches.push(batch)
      for (const reading of batch.readings) {
        const key = `${reading.probe}/${reading.boot}/${reading.seq}`
        const before = memory.readings.get(key)
        if (before === undefined) memory.readings.set(key, reading)
        else if (isRepetition(before, reading)) memory.duplicates++
        else
          memory.quarantined.push({
            arrivedAt: reading.arrivedAt,
            topic: reading.probe,
            payload: new Uint8Array(),
            reason: 'the same reading with other content',
          })
      }
      memory.anchors.push(...batch.anchors)
      for (const mark of batch.marks) memory.marks.set(`${mark.probe}/${mark.boot}`, mark)
      memory.quarantined.push(...batch.quarantined)
    },
    async recall(probe, boot) {
      if (memory.down) throw new HubError('HUB_STORE_UNAVAILABLE', 'disk full', { retry: true })
      const mark = memory.marks.get(`${probe}/${boot}`) ?? null
      const top = mark?.top ?? -1
      const ahead = [...memory.readings.values()]
        .filter((r) => r.probe === probe && r.boot === boot && r.seq > top)
        .map((r) => r.seq)
        .sort((a, b) => a - b)
      const anchors = memory.anchors
        .filter((a) => a.probe === probe && a.boot === boot)
        .sort((a, b) => a.uptimeS - b.uptimeS)
      const live = [...memory.readings.values()]
        .filter((r) => r.probe === probe && r.boot === boot && r.placedBy === 'arrival')
        .map((r) => ({ uptimeS: r.uptimeS, at: r.arrivedAt }))
        .sort((a, b) => b.uptimeS - a.uptimeS)
      return { mark, ahead, anchors, newest: live[0] ?? null }
    },
  }
  const memory: MemoryReadings = {
    port: port as ReadingStore,
    readings: new Map(),
    quarantined: [],
    anchors: [],
    marks: new Map(),
    batches: [],
    duplicates: 0,
    down: false,
    gate: null,
  }
  return memory
}

/** As the real store sees it: a repetition may leave channels out, and say spreads only later. */
function isRepetition(before: Reading, again: Reading): boolean {
  const first = new Map(before.values.map(({ channel, value }) => [channel, value]))
  return again.values.every(({ channel, value }) =>
    first.has(channel) ? Object.is(first.get(channel), value) : channel.endsWith('.s'),
  )
}

/** The part of a garden store that the ingest uses, in memory. */
export interface MemoryGarden {
  readonly port: GardenStore
  readonly probes: Map<string, Probe>
  readonly channels: Map<string, Channel>
  readonly news: ProbeNews[]
  readonly orders: Map<number, Order>
}

export function memoryGarden(): MemoryGarden {
  const probes = new Map<string, Probe>()
  const channels = new Map<string, Channel>()
  const news: ProbeNews[] = []
  const orders = new Map<number, Order>()
  const port: Pick<
    GardenStore,
    'hear' | 'probe' | 'channels' | 'addOrder' | 'openOrders' | 'orderSent' | 'answerOrder'
  > = {
    async hear(all, maxStrangers) {
      const refused: string[] = []
      for (const item of all) {
        const before = probes.get(item.id)
        const strangers = [...probes.values()].filter((p) => p.adoptedAt === null).length
        if (before === undefined && strangers >= maxStrangers) {
          refused.push(item.id)
          continue
        }
        news.push(item)
        probes.set(item.id, {
          id: item.id,
          name: before?.name ?? item.id,
          adoptedAt: before?.adoptedAt ?? null,
          firstSeenAt: before?.firstSeenAt ?? item.at,
          lastSeenAt: Math.max(before?.lastSeenAt ?? 0, item.at),
          state: item.state ?? before?.state ?? 'unknown',
          stateAt: item.state === undefined ? (before?.stateAt ?? item.at) : item.at,
          expectedAt: item.expectedAt ?? null,
          firmware: item.firmware ?? before?.firmware ?? null,
          hardware: item.hardware ?? before?.hardware ?? null,
          intervalS: item.intervalS ?? before?.intervalS ?? null,
        })
        for (const channel of item.channels ?? [])
          channels.set(`${item.id}/${channel.name}`, { probe: item.id, ...channel })
      }
      return { refused }
    },
    async addOrder(probe, wish, at) {
      const id = Math.max(Math.floor(at / 1000), ...[...orders.keys()].map((key) => key + 1))
      const order: Order = { ...wish, id, probe, madeAt: at, sentAt: null, times: 0, answer: null }
      orders.set(id, order)
      return order
    },
    openOrders: async (at) =>
      [...orders.values()].filter(
        (o) => o.answer === null && (o.kind === 'settings' || o.expiresAt > at),
      ),
    async orderSent(id, at) {
      const order = orders.get(id)
      if (order === undefined) return null
      orders.set(id, { ...order, sentAt: at, times: order.times + 1 })
      return orders.get(id) ?? null
    },
    async answerOrder(probe, id, answer) {
      const order = orders.get(id)
      if (order?.probe !== probe || order.answer !== null) return null
      orders.set(id, { ...order, answer })
      return orders.get(id) ?? null
    },
    probe: async (id) => probes.get(id) ?? null,
    channels: async (id) =>
      [...channels.values()].filter((c) => id === undefined || c.probe === id),
  }
  return { port: port as GardenStore, probes, channels, news, orders }
}
