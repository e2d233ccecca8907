import { startEvaluation } from '#hub/evaluation/start-evaluation.ts'
import { createIngest } from '#hub/ingest/ingest.ts'
import { openStores } from '#hub/store/open.ts'
import { seededRandom } from '../../support/random.ts'

/*
 * Many simulated days through the real ingest, store and evaluation, as fast as they go. At the end of each it waits
 * until everything is settled and looked at, collects garbage, and tells what memory is left in use.
 *   node --expose-gc soak-host.ts <data folder> <days> <probes>
 */

export interface SoakDay {
  readonly day: number
  /** JavaScript objects and buffers of the main thread after a collection, bytes. */
  readonly heap: number
  /** The whole process with its threads, bytes. */
  readonly resident: number
  readonly readings: number
  readonly rounds: number
}

const [folder = '', daysSaid = '', probesSaid = ''] = process.argv.slice(2)
const [days, probes] = [Number(daysSaid), Number(probesSaid)]
const { gc } = globalThis
if (gc === undefined) throw new Error('expected to run with --expose-gc')
const MINUTE = 60_000
const HOUR = 60 * MINUTE
const STEP = 10 * MINUTE
/** 1 March 2026. */
const START = 1_772_323_200_000
const orphaned = (): never => process.exit(3)
process.on('disconnect', orphaned)

let now = START
const clock = (): number => now
const stores = await openStores(folder, { zone: 'Europe/Lisbon' })
const { readings, garden, memory } = stores
const log = { warn: () => undefined, info: () => undefined }
const ingest = createIngest({ readings, garden, clock, log })
const ids = Array.from({ length: probes }, (_, i) => `row${i}`)
const texture = 'loam' as const
for (const [i, id] of ids.entries()) {
  const bed = await garden.addBed(
    { name: `Bed ${i}`, areaM2: 2, depthM: 0.3, texture, crops: ['carrot'], ownBand: null },
    START,
  )
  const spot = await garden.addSpot(bed.id, 'middle')
  await garden.adoptProbe(id, id, START)
  await garden.placeProbe(id, spot!.id, START)
  await garden.addCalibration({
    kind: 'electrode',
    probe: id,
    channel: 'phmv',
    at: START,
    points: [
      { ph: 7, emfMv: 0 },
      { ph: 4, emfMv: 177 },
    ],
    temperatureC: 25,
    bufferSet: null,
    note: '',
  })
}
const evaluation = startEvaluation({
  readings,
  garden,
  memory,
  clock,
  restMs: 1,
  hub: async () => ({ troubles: [], disk: null, listeningSince: START }),
  onAssessed: () => undefined,
  onAlarms: () => undefined,
  onFatal: (error) => {
    console.error(error)
    process.exit(1)
  },
})
readings.onSettled(({ probes: touched, from }) => evaluation.touchProbes(touched, from))

const random = seededRandom(81)
const seq = new Map(ids.map((id) => [id, 0]))
const payload = (id: string, at: number): Buffer => {
  const n = seq.get(id)!
  seq.set(id, n + 1)
  const day = (2 * Math.PI * (at % (24 * HOUR))) / (24 * HOUR)
  const season = (2 * Math.PI * (at - START)) / (365 * 24 * HOUR)
  const v = {
    phmv: Math.round((30 + 6 * Math.sin(season) + 2 * (random() - 0.5)) * 16) / 16,
    m1: Math.round(2200 + 300 * Math.sin(season * 12) + 20 * random()),
    st: Math.round((14 + 8 * Math.sin(season) + 4 * Math.sin(day) + random()) * 16) / 16,
    bat: Math.round((3.9 + 0.1 * Math.sin(day)) * 100) / 100,
  }
  return Buffer.from(JSON.stringify({ b: 1, n, u: Math.round((at - START) / 1000) + 3, v }))
}

for (let day = 1; day <= days; day++) {
  for (let hour = 0; hour < 24; hour++) {
    const batch = []
    for (let step = 0; step < HOUR / STEP; step++) {
      now += STEP
      for (const id of ids) {
        const topic = `lm1/${id}/up/r`
        const arrival = { topic, payload: payload(id, now), retain: false, arrivedAt: now }
        batch.push({ ...arrival, mayBeDelayed: false })
      }
    }
    await ingest.ingest(batch)
  }
  await readings.settle()
  // Of the day before everything is looked at; the beds take turns.
  while ((evaluation.state().lastAt ?? 0) < now) {
    if (evaluation.state().problem !== null) throw new Error(evaluation.state().problem!)
    evaluation.touch()
    await new Promise((resolve) => setTimeout(resolve, 5))
  }
  await gc({ type: 'major', execution: 'async' })
  const { heapUsed, external, rss } = process.memoryUsage()
  process.send?.({
    day,
    heap: heapUsed + external,
    resident: rss,
    readings: (await readings.counts()).readings,
    rounds: evaluation.state().rounds,
  } satisfies SoakDay)
}
await evaluation.stop()
ingest.stop()
await stores.close()
process.off('disconnect', orphaned)
process.disconnect?.()
