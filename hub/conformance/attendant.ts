import type { BirthBody } from '../wire/schemas.ts'
import { decode, encodeAck } from '../wire/payload.ts'
import type { Proxy } from './proxy.ts'
import type { Happening } from './record.ts'

export interface AttendantOptions {
  readonly probe: string
  readonly proxy: () => Proxy
  /** A hub behind the broker has this long to acknowledge before the check does it, ms. */
  readonly hubWaitMs: number
  /** Live readings are acknowledged at the latest this long after the last time, ms. */
  readonly everyMs: number
}

/** What has come so far. */
export interface Progress {
  /** Boot of the newest live reading or `on`; null: none came. */
  boot: number | null
  /** Number of the newest live reading of that boot; -1: none. */
  newest: number
  live: number
  ons: number
  births: number
  batches: number
  /** Newest number in a batch; -1: none. */
  newestLate: number
  /** Batches on the connection that is open. */
  batchesHere: number
  rows: number
  packets: number
  opened: number
  birth: BirthBody | null
  keepAliveS: number
  /** Ids of answered settings and commands, and whether they were accepted. */
  readonly results: Map<number, boolean>
  /** When the last live readings came, epoch ms. */
  readonly liveAt: number[]
}

/** Does the hub's part for one probe where no hub does: it acknowledges what came. */
export interface Attendant {
  readonly progress: Progress
  hear(happening: Happening): void
  /** Acknowledges at once what came of the present boot. */
  acknowledge(): void
  stop(): void
}

interface Ledger {
  readonly came: Set<number>
  top: number
  sinceAck: number
}

const EVERY_READINGS = 10
const KEPT_TIMES = 50

export function createAttendant(options: AttendantOptions): Attendant {
  const { probe, proxy, hubWaitMs } = options
  const ledgers = new Map<number, Ledger>()
  const owed = new Map<number, NodeJS.Timeout>()
  let hubAnswers = false
  let withholding = false
  let open = -1
  let dark = -1
  const progress: Progress = {
    boot: null,
    newest: -1,
    live: 0,
    ons: 0,
    births: 0,
    batches: 0,
    newestLate: -1,
    batchesHere: 0,
    rows: 0,
    packets: 0,
    opened: 0,
    birth: null,
    keepAliveS: 0,
    results: new Map(),
    liveAt: [],
  }

  const ledgerOf = (boot: number): Ledger => {
    const ledger = ledgers.get(boot) ?? { came: new Set(), top: -1, sinceAck: 0 }
    ledgers.set(boot, ledger)
    return ledger
  }
  /** The first number of a boot is taken for its beginning, as is that of a batch beyond a hole. */
  const note = (boot: number, numbers: readonly number[], batch: boolean): Ledger => {
    const ledger = ledgerOf(boot)
    const [first = 0] = numbers
    if (ledger.came.size === 0 || (batch && first > ledger.top + 1)) ledger.top = first - 1
    for (const n of numbers) ledger.came.add(n)
    while (ledger.came.has(ledger.top + 1)) ledger.top++
    return ledger
  }
  const tell = (boot: number, retain: boolean): void => {
    const ledger = ledgers.get(boot)
    if (ledger === undefined || ledger.top < 0 || withholding) return
    const payload = encodeAck({ b: boot, n: ledger.top })
    const sent = proxy().send(`lm1/${probe}/dn/ack`, payload, {
      retain,
      purpose: 'acknowledgement',
    })
    if (sent) ledger.sinceAck = 0
  }
  const owe = (boot: number, ms = hubWaitMs): void => {
    if (owed.has(boot)) return
    const timer = setTimeout(() => {
      owed.delete(boot)
      if (!hubAnswers) tell(boot, false)
    }, ms)
    owed.set(boot, timer)
  }

  const hearMessage = (topic: string, payload: Uint8Array, at: number): void => {
    const message = decode(topic, payload)
    if (!('kind' in message) && topic === `lm1/${probe}/up/r`) {
      // It cannot be acknowledged, and the check goes on all the same.
      progress.live++
      progress.liveAt.push(at)
    }
    if (!('kind' in message) || message.probe !== probe) return
    switch (message.kind) {
      case 'reading': {
        const { b, n } = message.body
        progress.live++
        progress.rows++
        if (progress.boot !== b) progress.newest = -1
        progress.boot = b
        progress.newest = Math.max(progress.newest, n)
        progress.liveAt.push(at)
        const ledger = note(b, [n], false)
        ledger.sinceAck++
        if (ledger.sinceAck >= EVERY_READINGS) owe(b)
        return
      }
      case 'batch': {
        progress.batches++
        progress.batchesHere++
        progress.newestLate = message.body.r.at(-1)?.[0] ?? -1
        progress.rows += message.body.r.length
        note(
          message.body.b,
          message.body.r.map(([n]) => n ?? 0),
          true,
        )
        owe(message.body.b)
        return
      }
      case 'state':
        if (message.body.s !== 'on') return
        progress.ons++
        if (progress.boot !== message.body.b) progress.newest = -1
        progress.boot = message.body.b
        owe(message.body.b)
        return
      case 'birth':
        progress.births++
        progress.birth = message.body
        return
      case 'result':
        progress.results.set(message.body.id, message.body.ok)
        return
      case 'plain':
        progress.live++
        progress.rows++
        progress.liveAt.push(at)
        return
      case 'channel':
      case 'ack':
      case 'cfg':
      case 'cmd':
      case 'time':
    }
  }

  const regular = setInterval(() => {
    if (progress.boot !== null && (ledgers.get(progress.boot)?.sinceAck ?? 0) > 0)
      owe(progress.boot)
  }, options.everyMs)

  return {
    progress,
    hear(one) {
      if (one.kind === 'opened') {
        open = one.link
        progress.opened++
        progress.batchesHere = 0
      }
      if (one.kind === 'deed') {
        if (one.deed === 'black hole') dark = open
        if (one.deed === 'withhold') withholding = true
        if (one.deed === 'release') withholding = false
      }
      if (one.kind === 'down') {
        const { packet, purpose, link } = one
        // The copy a broker keeps: a probe that slept finds it after subscribing.
        if (packet.cmd === 'suback' && link === open && progress.boot !== null && !hubAnswers)
          tell(progress.boot, true)
        if (purpose === null && packet.cmd === 'publish' && !packet.retain)
          hubAnswers ||= packet.topic === `lm1/${probe}/dn/ack`
      }
      if (one.kind !== 'up' || one.link === dark) return
      progress.packets++
      if (progress.liveAt.length > KEPT_TIMES) progress.liveAt.shift()
      if (one.packet.cmd === 'connect') progress.keepAliveS = one.packet.keepAliveS
      if (one.packet.cmd === 'publish') hearMessage(one.packet.topic, one.packet.payload, one.at)
    },
    acknowledge() {
      if (progress.boot !== null) tell(progress.boot, false)
    },
    stop() {
      clearInterval(regular)
      for (const timer of owed.values()) clearTimeout(timer)
    },
  }
}
