import { DAY, HOUR, MINUTE } from '../model/clock.ts'
import type { Command, Order, ProbeSettings, Wish } from '../model/order.ts'
import type { GardenStore } from '../store/garden-store.ts'
import { encodeCfg, encodeCmd } from '../wire/payload.ts'
import type { CmdBody, ResultBody } from '../wire/schemas.ts'
import { formatTopic } from '../wire/topic.ts'
import type { Downlink } from './ingest.ts'

/** A command without an answer goes out again after this, then after twice as long, up to an hour. */
const AGAIN_AFTER_MS = MINUTE
const LONGEST_PAUSE_MS = HOUR
const LATE_ANSWER_MS = DAY

type Sent = Exclude<Order, { kind: 'settings' }>

/**
 * What the hub wants of probes: kept in the garden's records, sent when the probe is there to hear it, and
 * matched with what it answers. Commands are never retained; the same command always has the same number,
 * so that a probe that hears it twice carries it out once.
 */
export interface Orders {
  /** A probe says that it is there: everything open is told to it. */
  awake(probe: string, at: number): Promise<readonly Downlink[]>
  /** A probe sent something just now: what is due to be told, or told again. */
  spoke(probe: string, at: number): Promise<readonly Downlink[]>
  /** Whether it is known that nothing open has to be told to a probe. */
  isQuiet(probe: string): boolean
  /** Null when no such order is open. */
  answered(probe: string, result: ResultBody, at: number): Promise<Order | null>
  /** The probe says which settings are in force. */
  inForce(probe: string, version: number, at: number): Promise<Order | null>
  command(probe: string, what: Command, at: number, expiresAt: number): Promise<Order>
  resend(
    probe: string,
    wanted: { readonly boot: number; readonly from: number; readonly count: number },
    at: number,
    expiresAt: number,
  ): Promise<Order>
  settings(probe: string, settings: ProbeSettings, at: number): Promise<Order>
  /** The settings that should stand retained for each probe, or for one; '' clears the topic. */
  standing(probe?: string): Promise<readonly Downlink[]>
  /** What is open is read from the records anew. */
  forget(): void
}

export function createOrders(garden: GardenStore): Orders {
  let loading: Promise<Map<number, Order>> | null = null
  /** What `loading` came to. */
  let loaded: Map<number, Order> | null = null
  const open = (at: number): Promise<Map<number, Order>> => {
    loading ??= garden.openOrders(at).then(
      (orders) => (loaded = new Map(orders.map((order) => [order.id, order]))),
      (error: unknown) => {
        loading = null
        throw error
      },
    )
    return loading
  }

  async function add(probe: string, wish: Wish, at: number): Promise<Order> {
    const known = await open(at)
    const order = await garden.addOrder(probe, wish, at)
    if (order.kind === 'settings') {
      // Only the newest wish can still be answered.
      for (const [id, other] of known)
        if (other.kind === 'settings' && other.probe === probe) known.delete(id)
    }
    known.set(order.id, order)
    return order
  }

  async function tell(
    probe: string,
    at: number,
    isDue: (order: Sent) => boolean,
  ): Promise<readonly Downlink[]> {
    const known = await open(at)
    const downlinks: Downlink[] = []
    for (const order of [...known.values()]) {
      if (order.probe !== probe || order.kind === 'settings') continue
      // An answer may still come a little later than the last moment to ask.
      if (at >= order.expiresAt + LATE_ANSWER_MS) known.delete(order.id)
      if (at >= order.expiresAt || !isDue(order)) continue
      const sent = await garden.orderSent(order.id, at)
      if (sent !== null) known.set(order.id, sent)
      downlinks.push(toCommand(order))
    }
    return downlinks
  }

  async function close(
    probe: string,
    id: number,
    answer: { readonly at: number; readonly ok: boolean; readonly reason: string | null },
  ): Promise<Order | null> {
    const known = await open(answer.at)
    if (known.get(id)?.probe !== probe) return null
    const order = await garden.answerOrder(probe, id, answer)
    known.delete(id)
    return order
  }

  return {
    awake: (probe, at) => tell(probe, at, () => true),
    spoke: (probe, at) =>
      tell(
        probe,
        at,
        ({ sentAt, times }) =>
          sentAt === null ||
          at - sentAt >= Math.min(AGAIN_AFTER_MS * 2 ** (times - 1), LONGEST_PAUSE_MS),
      ),
    isQuiet(probe) {
      if (loaded === null) return false
      for (const order of loaded.values()) if (order.probe === probe) return false
      return true
    },
    answered: (probe, { id, ok, e }, at) =>
      close(probe, id, { at, ok, reason: ok ? null : (e ?? null) }),
    async inForce(probe, version, at) {
      const known = await open(at)
      return known.get(version)?.kind === 'settings'
        ? close(probe, version, { at, ok: true, reason: null })
        : null
    },
    command: (probe, what, at, expiresAt) => add(probe, { kind: 'command', what, expiresAt }, at),
    resend: (probe, wanted, at, expiresAt) =>
      add(probe, { kind: 'resend', ...wanted, expiresAt }, at),
    settings: (probe, settings, at) => add(probe, { kind: 'settings', settings }, at),
    async standing(probe) {
      const orders = await garden.standingSettings(probe)
      if (orders.length === 0 && probe !== undefined) return [{ ...cfgTopic(probe), payload: '' }]
      return orders.flatMap((order) =>
        order.kind === 'settings'
          ? [{ ...cfgTopic(order.probe), payload: toCfg(order.id, order.settings) }]
          : [],
      )
    },
    forget: () => {
      loading = null
      loaded = null
    },
  }
}

const cfgTopic = (probe: string): { readonly topic: string; readonly retain: boolean } => ({
  topic: formatTopic({ to: 'probe', probe, leaf: 'cfg' }),
  retain: true,
})

function toCfg(cv: number, { intervalS, samples, settleS }: ProbeSettings): string {
  return encodeCfg({
    cv,
    ...(intervalS === null ? {} : { iv: intervalS }),
    ...(samples === null ? {} : { ns: samples }),
    ...(settleS === null ? {} : { st: settleS }),
  })
}

function toCommand(order: Sent): Downlink {
  const { id, probe } = order
  const body: CmdBody =
    order.kind === 'command'
      ? { id, do: order.what }
      : { id, do: 'resend', b: order.boot, n: order.from, k: order.count }
  return {
    topic: formatTopic({ to: 'probe', probe, leaf: 'cmd' }),
    payload: encodeCmd(body),
    retain: false,
  }
}
