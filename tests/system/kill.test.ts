import { fork } from 'node:child_process'
import type { ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { connect, createServer } from 'node:net'
import type { AddressInfo, Socket } from 'node:net'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { openStores } from '#hub/store/open.ts'
import { startBroker } from '#tests/support/broker.ts'
import type { TestBroker } from '#tests/support/broker.ts'
import type { HostNews } from '#tests/support/intake-host.ts'
import { loadValues, startLoad } from '#tests/support/load.ts'
import type { Load } from '#tests/support/load.ts'
import { freePort } from '#tests/support/ports.ts'
import { seededRandom } from '#tests/support/random.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

/*
 * What a probe was told is stored must be stored, whatever happens to the hub. `kill -9` shows this for the
 * death of the process; that a power cut does no harm either rests on the store's synchronous commits.
 */

const KILLS = 5
const RESETS = 6

/** One life of the hub's way in. */
interface Host {
  /** Messages committed in this life. */
  messages(): number
  /** Readings in the store, asked now. */
  stored(): Promise<number>
  end(signal: 'SIGKILL' | 'SIGTERM'): Promise<void>
}

let folder: ReturnType<typeof tempDir>
let hosts: ChildProcess[]
let load: Load | undefined
let broker: TestBroker | undefined
let proxy: Proxy | undefined

beforeEach(() => {
  folder = tempDir()
  hosts = []
})
afterEach(async () => {
  await load?.close()
  const alive = hosts.filter(({ exitCode, signalCode }) => exitCode === null && signalCode === null)
  const ends = alive.map((host) => once(host, 'exit'))
  for (const host of alive) host.kill('SIGKILL')
  await Promise.all(ends)
  await proxy?.close()
  await broker?.close()
  load = proxy = broker = undefined
  folder[Symbol.dispose]()
})

async function startHost(kind: 'embedded' | 'external', where: string): Promise<Host> {
  const child = fork('tests/support/intake-host.ts', [folder.path, kind, where], {
    execArgv: [],
    stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
  })
  hosts.push(child)
  let up = false
  let messages = 0
  let stored: number | null = null
  let said = ''
  child.stderr?.on('data', (chunk: Buffer) => (said += chunk.toString()))
  child.on('message', (news: HostNews) => {
    if (news.kind === 'up') up = true
    else if (news.kind === 'tally') messages = news.messages
    else if (news.kind === 'stored') stored = news.readings
  })
  await until(
    'the way in is open',
    () => {
      if (child.exitCode !== null) throw new Error(`the host ended (${child.exitCode}): ${said}`)
      return up
    },
    20_000,
  )
  return {
    messages: () => messages,
    async stored() {
      stored = null
      child.send('stored?')
      await until('the host answers', () => stored !== null)
      return stored!
    },
    async end(signal) {
      const exit = once(child, 'exit')
      child.kill(signal)
      await exit
      expect(child.signalCode ?? child.exitCode, said).toBe(signal === 'SIGKILL' ? signal : 0)
    },
  }
}

/** Every reading confirmed to a probe is in the store once, with its own values, and nothing else is. */
async function compare(sent: Load): Promise<void> {
  const stores = await openStores(folder.path)
  const { readings } = stores
  try {
    await readings.settle()
    let lost = 0
    for (const probe of sent.probes) {
      const acknowledged = sent.acknowledged(probe)
      const count = acknowledged.size
      const { mark, ahead } = await readings.recall(probe, 1)
      const held = new Set(ahead)
      for (const n of acknowledged) if (n > (mark?.top ?? -1) && !held.has(n)) lost++
      expect({ top: mark?.top, lost: mark?.lost, ahead }, probe).toEqual({
        top: count - 1,
        lost: 0,
        ahead: [],
      })
      for (const channel of ['m1', 'st'] as const) {
        const [rows] = await readings.buckets([
          { probe, channel, from: 0, to: Number.MAX_SAFE_INTEGER, step: 'raw' },
        ])
        const values = Array.from(rows?.mean ?? []).toSorted((a, b) => a - b)
        const expected = Array.from({ length: count }, (_, n) => loadValues(n)[channel])
        expect(values, `${probe} ${channel}`).toEqual(expected)
      }
    }
    expect(lost).toBe(0)
    expect(await readings.counts()).toMatchObject({
      readings: sent.acknowledgedCount(),
      quarantined: 0,
      lost: 0,
    })
  } finally {
    await stores.close()
  }
}

test(`embedded broker: ${KILLS} times kill -9 under load, nothing confirmed is lost`, async () => {
  const random = seededRandom(11)
  const port = await freePort()
  let host = await startHost('embedded', String(port))
  load = await startLoad({ url: `mqtt://127.0.0.1:${port}`, probes: 6, perTick: 5, window: 25 })
  for (let kill = 0; kill < KILLS; kill++) {
    const before = load.acknowledgedCount()
    const enough = 300 + random() * 900
    const sent = load
    await until(
      'the load runs and something is on its way',
      () => sent.acknowledgedCount() - before > enough && sent.inFlight() > 0,
      20_000,
    )
    await host.end('SIGKILL')
    host = await startHost('embedded', String(port))
  }
  await load.finish()
  await host.end('SIGTERM')
  await compare(load)
}, 60_000)

test(`broker of one's own: ${KILLS} times kill -9 under load, nothing the broker took is lost`, async () => {
  const random = seededRandom(12)
  broker = await startBroker()
  let host = await startHost('external', broker.url)
  load = await startLoad({ url: broker.url, probes: 6, perTick: 4, window: 25 })
  for (let kill = 0; kill < KILLS; kill++) {
    const enough = 300 + random() * 900
    const alive = host
    await until('the hub takes the load', () => alive.messages() > enough, 20_000)
    await host.end('SIGKILL')
    host = await startHost('external', broker.url)
  }
  await load.finish()
  await drained(host, load)
  await host.end('SIGTERM')
  await compare(load)
}, 60_000)

test(`broker of one's own: ${RESETS} resets of the hub's connection under load, nothing is lost`, async () => {
  const random = seededRandom(13)
  broker = await startBroker()
  proxy = await startProxy(broker.port)
  const host = await startHost('external', `mqtt://127.0.0.1:${proxy.port}`)
  load = await startLoad({ url: broker.url, probes: 6, perTick: 4, window: 25 })
  for (let reset = 0; reset < RESETS; reset++) {
    const link = proxy
    // What came over the old connection may still be committed after its end.
    await until('the hub is back', () => link.connections() === reset + 1, 20_000)
    const enough = host.messages() + 1200 + random() * 600
    await until('the hub takes the load again', () => host.messages() > enough, 20_000)
    expect(link.reset()).toBe(1)
  }
  const link = proxy
  await until('the hub is back', () => link.connections() === RESETS + 1, 20_000)
  await load.finish()
  await drained(host, load)
  await host.end('SIGTERM')
  await compare(load)
}, 60_000)

/** The backlog at the broker is in the store. */
async function drained(host: Host, sent: Load): Promise<void> {
  const all = sent.acknowledgedCount()
  await until('the backlog is stored', async () => (await host.stored()) >= all, 20_000)
}

/** Stands between the hub and its broker. */
interface Proxy {
  readonly port: number
  /** Connections made so far. */
  connections(): number
  /** Breaks every connection with a TCP reset on both sides, and says how many. */
  reset(): number
  close(): Promise<void>
}

async function startProxy(target: number): Promise<Proxy> {
  const pairs = new Set<readonly [Socket, Socket]>()
  let made = 0
  const server = createServer((near) => {
    made++
    const far = connect(target, '127.0.0.1')
    const pair = [near, far] as const
    pairs.add(pair)
    for (const [from, to] of [
      [near, far],
      [far, near],
    ] as const) {
      from.setNoDelay(true)
      from.on('error', () => {})
      from.on('close', () => {
        pairs.delete(pair)
        to.destroy()
      })
      from.pipe(to)
    }
  })
  server.listen(0, '127.0.0.1')
  await once(server, 'listening')
  const reset = (): number => {
    const open = [...pairs]
    for (const socket of open.flat()) socket.resetAndDestroy()
    return open.length
  }
  return {
    port: (server.address() as AddressInfo).port,
    connections: () => made,
    reset,
    async close() {
      reset()
      await new Promise((resolve) => server.close(resolve))
    },
  }
}
