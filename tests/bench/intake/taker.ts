import mqtt from 'mqtt'
import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import { openExternalBroker } from '#hub/ingest/external-broker.ts'
import type { Front } from '#hub/ingest/front.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import type { Arrival } from '#hub/ingest/ingest.ts'
import { openStores } from '#hub/store/open.ts'
import { quiet } from '../kit.ts'
import { monotonic } from './monotonic.ts'

/*
 * A process that takes what is published: a subscriber that does nothing, or stores, ingest and a front as in
 * the hub. It tells when each message was taken (received; committed).
 *   node taker.ts noop <mqtt url>
 *   node taker.ts external <mqtt url> <data folder> <probes>
 *   node taker.ts embedded <port> <data folder> <probes>
 */

/** The parent: count so many messages from now on. */
export interface Expect {
  readonly messages: number
}
export type Told =
  | { readonly kind: 'up' }
  /** `at`: when the k-th message was taken; `settled`: when all were in series and roll-ups. */
  | {
      readonly kind: 'taken'
      readonly at: Float64Array
      readonly settled: number
      readonly cpuMs: number
    }

const [kind = '', where = '', folder = '', probes = '0'] = process.argv.slice(2)
const tell = (told: Told): void => void process.send?.(told)
let at = new Float64Array(0)
let taken = 0
let before = process.cpuUsage()
let settle = (): Promise<void> => Promise.resolve()

function count(messages: number): void {
  if (at.length === 0) return
  const now = monotonic()
  at.fill(now, taken, taken + messages)
  taken += messages
  if (taken < at.length) return
  const times = at
  at = new Float64Array(0)
  void settle().then(() => {
    const settled = monotonic()
    const { user, system } = process.cpuUsage(before)
    tell({ kind: 'taken', at: times, settled, cpuMs: (user + system) / 1000 })
  })
}

process.on('message', ({ messages }: Expect) => {
  at = new Float64Array(messages)
  taken = 0
  before = process.cpuUsage()
})
process.on('disconnect', () => process.exit(0))

if (kind === 'noop') {
  const client = mqtt.connect(where, {
    protocolVersion: 5,
    clientId: 'noop',
    properties: { receiveMaximum: 1000 },
  })
  client.on('message', () => count(1))
  await client.subscribeAsync('lm1/+/up/#', { qos: 1 })
  tell({ kind: 'up' })
} else {
  const stores = await openStores(folder)
  for (let i = 0; i < Number(probes); i++)
    await stores.garden.adoptProbe(`bench${i}`, `Probe ${i}`, Date.now())
  const inner = createIngest({ ...stores, clock: Date.now, log: quiet })
  const ingest = {
    ...inner,
    ingest: async (batch: readonly Arrival[]) => {
      const downlinks = await inner.ingest(batch)
      count(batch.length)
      return downlinks
    },
  }
  settle = () => stores.readings.settle()
  const common = { ingest, clock: Date.now, log: quiet }
  const front: Front =
    kind === 'embedded'
      ? await openEmbeddedBroker({ ...common, host: '127.0.0.1', port: Number(where) })
      : await openExternalBroker({ ...common, url: where })
  const look = (): void => {
    if (front.state().state === 'up') tell({ kind: 'up' })
  }
  front.onState(look)
  look()
}
