import { openInfluxReadingStore } from '#hub/store/influx/open-influx-reading-store.ts'
import { batchOf, sampleReading } from './sample-readings.ts'

/*
 * A process that keeps readings in a store until it is killed: `appending-store.ts FILE URL DATABASE FROM BATCH`.
 * After each batch that was acknowledged it writes the number of the last reading in it on a line of its own. With
 * a batch of 0 it keeps nothing and sends on what waits there.
 */
const [file, url, database, from, batch] = process.argv.slice(2)
if (file === undefined || url === undefined || database === undefined) {
  throw new Error('expected FILE URL DATABASE FROM BATCH')
}

const fail = (error: Error): void => {
  console.error(error)
  process.exit(1)
}
const store = await openInfluxReadingStore(
  file,
  { url, database, retention: null, auth: { kind: 'none' } },
  { onDeath: fail, onTrouble: fail, onForwarding: () => {}, clock: Date.now },
)
const size = Number(batch)
if (size === 0) setInterval(() => {}, 60_000)
for (let seq = Number(from); size > 0; seq += size) {
  const readings = Array.from({ length: size }, (_, i) =>
    sampleReading({ seq: seq + i, values: { e1: seq + i, m1: 1 } }),
  )
  await store.append(batchOf({ readings }))
  console.log(seq + size - 1)
}
