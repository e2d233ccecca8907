import { PLAIN_BOOT } from '../model/reading.ts'
import type { Order } from '../model/order.ts'
import type { Anchor, Reading } from '../model/reading.ts'
import { createAckRule } from './acknowledge.ts'
import type { AckRule } from './acknowledge.ts'
import type { Boot } from './boot-book.ts'
import type { BootCache } from './boot-cache.ts'
import type { IngestLog } from './front.ts'
import type { Orders } from './orders.ts'
import { plainReading, readingOf, rowsOf } from './readings-of.ts'
import type { Item } from './sift.ts'

/** The answer of a probe that no longer holds what it is asked for. */
const GONE = 'gone'

export interface TakingDeps {
  readonly boots: BootCache
  readonly orders: Pick<Orders, 'answered' | 'inForce'>
  readonly log: IngestLog
  /** Repeats until the store takes it. */
  readonly lasting: <T>(work: () => Promise<T>) => Promise<T>
}

/** What the messages of a batch come to. */
export interface Taken {
  readonly readings: Reading[]
  readonly anchors: Anchor[]
  readonly touched: Set<Boot>
  readonly acks: AckRule
  /** Probes that woke. */
  readonly woke: Set<string>
  /** Boots whose probe is there at this moment, and since when. */
  readonly present: Map<Boot, number>
  /** Probes that answered something the hub wanted. */
  readonly answered: Set<string>
}

/** Takes messages in one after the other: readings, where they stand in their boot, what is owed for them. */
export async function takeItems(items: readonly Item[], deps: TakingDeps): Promise<Taken> {
  const { boots, orders, log, lasting } = deps
  const taken: Taken = {
    readings: [],
    anchors: [],
    touched: new Set(),
    acks: createAckRule(),
    woke: new Set(),
    present: new Map(),
    answered: new Set(),
  }
  const { acks } = taken

  function touch(boot: Boot, at: number): void {
    if (at > boot.lastAt) boot.lastAt = at
    taken.touched.add(boot)
  }
  function anchor(boot: Boot, uptimeS: number, at: number): void {
    const kept = boot.anchor({ uptimeS, at })
    if (kept.length > 0) taken.anchors.push(...kept)
  }
  // Only what is not in memory is waited for.
  const bootOf = (probe: string, boot: number): Boot | Promise<Boot> =>
    boots.get(probe, boot) ?? boots.open(probe, boot)

  function takeReading({ arrival, message }: Item, boot: Boot): void {
    if (message.kind !== 'reading') return
    const { arrivedAt } = arrival
    const { reading, isAnchor } = readingOf(message, arrival, boot.anchors)
    taken.readings.push(reading)
    if (isAnchor) anchor(boot, message.body.u, arrivedAt)
    boot.ledger.take(reading.seq)
    acks.reading(boot, arrivedAt)
    touch(boot, arrivedAt)
    if (!arrival.mayBeDelayed && arrival.isOld !== true) taken.present.set(boot, arrivedAt)
  }

  async function takeResult(
    probe: string,
    body: Parameters<Orders['answered']>[1],
    at: number,
  ): Promise<void> {
    const order = await lasting(() => orders.answered(probe, body, at))
    if (order === null) return
    taken.answered.add(probe)
    if (body.ok) return
    if (order.kind === 'resend' && body.e === GONE) {
      const boot = await bootOf(probe, order.boot)
      boot.ledger.startAt(order.from + order.count)
      acks.on(boot, at)
      touch(boot, at)
    } else
      log.warn(`${probe} refused ${wordsOf(order)}${body.e === undefined ? '' : `: ${body.e}`}`)
  }

  for (const item of items) {
    const { arrival, message } = item
    const { probe } = message
    const { arrivedAt } = arrival
    if (message.kind === 'reading') {
      const known = boots.get(probe, message.body.b)
      takeReading(item, known ?? (await boots.open(probe, message.body.b)))
    } else if (message.kind === 'batch') {
      const boot = await bootOf(probe, message.body.b)
      const sender = message.body.nb === undefined ? boot : await bootOf(probe, message.body.nb)
      if (!arrival.mayBeDelayed) anchor(sender, message.body.u, arrivedAt)
      const rows = rowsOf(message, arrival, boot.anchors, sender.anchors)
      boot.ledger.startAt(rows[0]?.seq ?? 0)
      for (const row of rows) boot.ledger.take(row.seq)
      taken.readings.push(...rows)
      acks.batch(boot, boot === sender, arrivedAt)
      touch(boot, arrivedAt)
    } else if (message.kind === 'plain') {
      const boot = await bootOf(probe, PLAIN_BOOT)
      const reading = plainReading(message, arrival, boot.ledger.top + 1)
      taken.readings.push(reading)
      boot.ledger.take(reading.seq)
      touch(boot, arrivedAt)
    } else if (message.kind === 'state' && !arrival.retain) {
      const { s, b, u } = message.body
      if (s === 'off') continue
      const boot = await bootOf(probe, b)
      if (u !== undefined && !arrival.mayBeDelayed) anchor(boot, u, arrivedAt)
      touch(boot, arrivedAt)
      if (s !== 'on') continue
      acks.on(boot, arrivedAt)
      taken.woke.add(probe)
    } else if (message.kind === 'result') await takeResult(probe, message.body, arrivedAt)
    else if (message.kind === 'birth' && message.body.cv !== undefined) {
      const { cv } = message.body
      if ((await lasting(() => orders.inForce(probe, cv, arrivedAt))) !== null)
        taken.answered.add(probe)
    }
  }
  return taken
}

function wordsOf(order: Order): string {
  if (order.kind === 'settings') return 'settings'
  return order.kind === 'command' ? order.what : 'to send readings again'
}
