import { createHash } from 'node:crypto'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll } from 'vitest'
import { openInfluxReadingStore } from '#hub/store/influx/open-influx-reading-store.ts'
import { repeats } from '#tests/faults/support/repeats.ts'
import { startInfluxd, type Service } from '#tests/support/services/services.ts'
import { readingStoreContract } from './reading-store.ts'

process.env['NODE_COMPILE_CACHE'] ??= join(tmpdir(), 'node-compile-cache')

const fail = (error: Error): never => {
  throw error
}

let influxd: Service
beforeAll(async () => {
  influxd = await startInfluxd()
})
afterAll(() => influxd[Symbol.asyncDispose]())

readingStoreContract(
  'readings in InfluxDB',
  (folder) =>
    openInfluxReadingStore(
      join(folder, 'readings.db'),
      {
        url: `http://${influxd.host}:${influxd.port}`,
        // Every folder has a database of its own, and finds it again.
        database: `garden-${createHash('sha256').update(folder).digest('hex').slice(0, 16)}`,
        retention: null,
        auth: { kind: 'none' },
      },
      {
        onDeath: fail,
        onTrouble: fail,
        onForwarding: ({ problem }) => fail(new Error(problem ?? 'back')),
        clock: Date.now,
      },
    ),
  // As many as on SQLite take a minute of a busy machine.
  { tries: repeats('LOAMLINE_TEST_INFLUX_TRIES', 40) },
)
