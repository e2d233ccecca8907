import { openEmbeddedBroker } from '#hub/ingest/embedded-broker.ts'
import { openExternalBroker } from '#hub/ingest/external-broker.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { openStores } from '#hub/store/open.ts'

/*
 * A process to be killed: stores, ingest and one front, as in the hub, and nothing else.
 *   node intake-host.ts <data folder> embedded <port>
 *   node intake-host.ts <data folder> external <mqtt://host:port> [keep alive in s]
 *   INTAKE_INFLUX=http://host:port  its readings go on to that InfluxDB, database 'garden'
 */

/** What it tells its parent. */
export type HostNews =
  | { readonly kind: 'up' }
  /** Why the front is not up; null: it is. */
  | { readonly kind: 'front'; readonly problem: string | null }
  | { readonly kind: 'tally'; readonly messages: number }
  | { readonly kind: 'stored'; readonly readings: number }

const [folder = '', kind = '', where = '', keepAlive = '60'] = process.argv.slice(2)
const clock = Date.now
const log = { warn: (text: string) => process.stderr.write(`${text}\n`), info: () => {} }

function tell(news: HostNews): void {
  if (process.connected) process.send?.(news)
}

// Its parent has gone: nobody would end it any more.
process.on('disconnect', () => process.exit(3))

const influxUrl = process.env['INTAKE_INFLUX']
const stores = await openStores(
  folder,
  influxUrl === undefined
    ? {}
    : { influx: { url: influxUrl, database: 'garden', retention: null, auth: { kind: 'none' } } },
)
const ingest = createIngest({ readings: stores.readings, garden: stores.garden, clock, log })
const front =
  kind === 'embedded'
    ? await openEmbeddedBroker({ host: '127.0.0.1', port: Number(where), ingest, clock, log })
    : await openExternalBroker({
        url: where,
        ingest,
        clock,
        log,
        keepAliveS: Number(keepAlive),
      })

const tellUp = (): void => {
  const { state, problem } = front.state()
  tell({ kind: 'front', problem: state === 'up' ? null : (problem ?? state) })
  if (state === 'up') tell({ kind: 'up' })
}
front.onState(tellUp)
tellUp()
const timer = setInterval(() => tell({ kind: 'tally', messages: ingest.tally().messages }), 10)

process.on('message', () => {
  void stores.readings
    .settle()
    .then(() => stores.readings.counts())
    .then(({ readings }) => tell({ kind: 'stored', readings }))
})
process.on('SIGTERM', () => {
  clearInterval(timer)
  void front
    .stop()
    .then(() => stores.close())
    .then(() => process.exit(0))
})
