import { readFileSync } from 'node:fs'
import mqtt from 'mqtt'
import { DAY, HOUR, SECOND } from '#hub/model/clock.ts'
import { openStores } from '#hub/store/open.ts'
import { startHub } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { fill } from './fill.ts'
import { middle } from './kit.ts'
import type { BenchRow } from './row.ts'

const SPOTS = 4
const HISTORY_DAYS = 14
/** Each probe is connected and sends a reading this often: sixty times as often as in a garden. */
const EVERY_MS = 15 * SECOND
const RUN_MS = 60 * SECOND
const CONNECTING = 50
/** What `npm start` gives to Node. */
const AS_STARTED = '--max-semi-space-size=8'

/** Resident memory of a process and the most it ever was, bytes. */
function memoryOf(pid: number): { readonly now: number; readonly most: number } {
  const status = readFileSync(`/proc/${pid}/status`, 'utf8')
  const kib = (name: string): number => {
    const found = new RegExp(`^${name}:\\s+(\\d+) kB$`, 'm').exec(status)
    if (found === null) throw new Error(`no ${name} of process ${pid}`)
    return Number(found[1]) * 1024
  }
  return { now: kib('VmRSS'), most: kib('VmHWM') }
}

/** A garden with a bed for every four probes, each in a spot, and two weeks of hourly readings. */
async function plant(dir: string, probes: number, now: number): Promise<void> {
  const stores = await openStores(dir)
  const { garden } = stores
  try {
    const from = now - HISTORY_DAYS * DAY
    for (let first = 0; first < probes; first += SPOTS) {
      const bed = await garden.addBed(
        {
          name: `Bed ${first / SPOTS + 1}`,
          areaM2: 2,
          depthM: 0.3,
          texture: 'raised-bed mix',
          crops: ['tomato'],
          ownBand: null,
        },
        from,
      )
      for (let i = first; i < Math.min(probes, first + SPOTS); i++) {
        const id = `bench${i}`
        await garden.adoptProbe(id, id, from)
        const spot = await garden.addSpot(bed.id, `spot ${i - first + 1}`)
        await garden.placeProbe(id, spot!.id, from)
      }
    }
    await fill(stores.readings, {
      probes,
      each: (HISTORY_DAYS * DAY) / HOUR,
      everyMs: HOUR,
      until: now,
    })
  } finally {
    await stores.close()
  }
}

async function hubWith(probes: number): Promise<{
  readonly steady: number
  readonly most: number
  readonly taken: number
}> {
  using dir = tempDir()
  await plant(dir.path, probes, Date.now() - HOUR)
  await using hub = await startHub('start', dir.path, {
    LOAMLINE_LOG_LEVEL: 'warn',
    NODE_OPTIONS: AS_STARTED,
  })
  const clients: mqtt.MqttClient[] = []
  const boot = 7
  let taken = 0
  for (let i = 0; i < probes; i += CONNECTING) {
    clients.push(
      ...(await Promise.all(
        Array.from({ length: Math.min(CONNECTING, probes - i) }, (_, k) =>
          mqtt.connectAsync(`mqtt://127.0.0.1:${hub.mqttPort}`, {
            clientId: `bench${i + k}`,
            protocolVersion: 4,
            keepalive: 60,
          }),
        ),
      )),
    )
  }
  const begun = performance.now()
  const seen: number[] = []
  let next = 0
  let n = 0
  const perTick = probes / (EVERY_MS / 100)
  let owed = 0
  await new Promise<void>((resolve, reject) => {
    const timer = setInterval(() => {
      for (owed += perTick; owed >= 1; owed--) {
        const client = clients[next]!
        const uptime = Math.floor((performance.now() - begun) / 1000)
        const body = `{"b":${boot},"n":${n},"u":${uptime},"v":{"phmv":${20 + (n % 9)},"m1":${1500 + (n % 700)},"st":15.5,"bat":3.9}}`
        client.publish(`lm1/bench${next}/up/r`, body, { qos: 1 }, (error) => {
          if (error) reject(error)
          else taken++
        })
        next = (next + 1) % probes
        if (next === 0) n++
      }
      seen.push(memoryOf(hub.pid).now)
      if (performance.now() - begun < RUN_MS) return
      clearInterval(timer)
      resolve()
    }, 100)
  })
  await until('everything sent is confirmed', () => taken >= n * probes + next, 30_000)
  const { most } = memoryOf(hub.pid)
  await Promise.all(clients.map((client) => client.endAsync(true)))
  // The second half: what was made at the start is gone.
  return { steady: middle(seen.slice(seen.length >> 1)), most, taken }
}

const MB = 1e6

export async function rows(): Promise<readonly BenchRow[]> {
  const hundred = await hubWith(100)
  const thousand = await hubWith(1000)
  const how = `The hub as a process of its own, built-in broker, 1,000 probes connected in 250 beds with ${HISTORY_DAYS} days behind them, a reading of each every ${EVERY_MS / SECOND} s for ${RUN_MS / SECOND} s (${thousand.taken} confirmed)`
  const missed = {
    why: 'Some 73 MB are the pages of the Node program itself, five threads have a heap of their own each, SQLite keeps pages of the file, and the old space of the main thread grows to twice what is in use before it is cleared.',
    next: 'Garden and watch in one thread (7 MB less); a fraction of what a round of looking at beds leaves in the old space; smaller page caches where views stay as quick.',
  }
  return [
    {
      what: 'Resident memory at 1,000 probes',
      value: thousand.steady / MB,
      unit: 'MB',
      better: 'less',
      target: 200,
      stretch: 150,
      how: `${how}; VmRSS ten times a second, middle of the second half.`,
      missed,
    },
    {
      what: 'The most it ever was',
      value: thousand.most / MB,
      unit: 'MB',
      better: 'less',
      target: null,
      how: 'VmHWM of the same process: looking at 250 beds for the first time is in it.',
    },
    {
      what: 'Growth of resident memory with 10 times the probes',
      value: thousand.steady / hundred.steady,
      unit: '',
      better: 'less',
      target: 2,
      stretch: 1.5,
      how: `1,000 probes against 100 (${(hundred.steady / MB).toFixed(0)} MB).`,
      missed,
    },
  ]
}
