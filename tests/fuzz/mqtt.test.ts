import { once } from 'node:events'
import { readFileSync } from 'node:fs'
import { connect } from 'node:net'
import fc from 'fast-check'
import { generate, parser } from 'mqtt-packet'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'
import { mqttBytes } from './mqtt-bytes.ts'
import { longest, runs } from './size.ts'

/*
 * Bytes of every kind at the broker of a real hub. It stays up, another probe's readings go on being stored and
 * acknowledged, and what comes is not kept in memory.
 */

const AT_ONCE = 16
let dir: ReturnType<typeof tempDir>
let hub: HubProcess
beforeAll(async () => {
  dir = tempDir()
  hub = await startHub('start', dir.path, {
    LOAMLINE_PROBE_LIMIT: '1000',
    LOAMLINE_LOG_LEVEL: 'info',
  })
})
afterAll(async () => {
  await hub[Symbol.asyncDispose]()
  dir[Symbol.dispose]()
})

/** Memory the hub's process holds, bytes. */
function resident(): number {
  const status = readFileSync(`/proc/${hub.pid}/status`, 'utf8')
  return Number(/^VmRSS:\s+(\d+) kB$/m.exec(status)?.[1]) * 1024
}

/** Sends bytes on a connection of their own and waits until it is closed, or nothing comes for a while. */
function throwAt(port: number, bytes: Uint8Array, waitMs = 60): Promise<void> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1')
    socket.on('error', () => undefined)
    socket.on('close', () => resolve())
    socket.on('data', () => undefined)
    socket.on('connect', () => {
      socket.write(bytes)
      setTimeout(() => socket.destroy(), waitMs)
    })
  })
}

/** A probe that sends a reading, waits for its acknowledgement and sends the next. */
function steadyProbe(id: string): { readonly acknowledged: () => number; stop(): Promise<void> } {
  const socket = connect(hub.mqttPort, '127.0.0.1')
  const reader = parser({ protocolVersion: 4 })
  let [n, stopped] = [0, false]
  let trouble: Error | null = null
  const send = (): void => {
    socket.write(
      generate({
        cmd: 'publish',
        topic: `lm1/${id}/up/r`,
        payload: `{"b":1,"n":${n},"u":${n * 60},"v":{"phmv":12.5}}`,
        qos: 1,
        messageId: (n % 65_000) + 1,
        dup: false,
        retain: false,
      }),
    )
  }
  socket.on('error', (error) => (trouble = error))
  socket.on('close', () => {
    if (!stopped) trouble ??= new Error('the connection was ended')
  })
  reader.on('packet', (packet) => {
    if (packet.cmd === 'puback') n++
    if ((packet.cmd === 'puback' || packet.cmd === 'connack') && !stopped) setTimeout(send, 20)
  })
  socket.on('data', (bytes: Buffer) => reader.parse(bytes))
  socket.write(
    generate({
      cmd: 'connect',
      clientId: id,
      username: id,
      clean: true,
      keepalive: 60,
      protocolId: 'MQTT',
      protocolVersion: 4,
    }),
  )
  const acknowledged = (): number => {
    if (trouble !== null)
      throw new Error(`the steady probe: ${trouble.message}`, { cause: trouble })
    return n
  }
  return {
    acknowledged,
    stop: async () => {
      stopped = true
      const before = n
      await until('the last reading is acknowledged', () => n >= before, 5000)
      socket.destroy()
    },
  }
}

interface Health {
  readonly status: string
  readonly counts: { readonly readings: number; readonly quarantined: number }
}

test(
  'bytes of every kind: the hub lives, another probe goes on, memory stays',
  async () => {
    const steady = steadyProbe('steady1')
    await until('the first readings', () => steady.acknowledged() > 3, 10_000)
    const before = resident()
    const { numRuns, seed } = runs(1100)
    const all = fc.sample(mqttBytes, { numRuns, seed })
    for (let i = 0; i < all.length; i += AT_ONCE) {
      const acknowledged = steady.acknowledged()
      await Promise.all(all.slice(i, i + AT_ONCE).map((bytes) => throwAt(hub.mqttPort, bytes)))
      if (i % (AT_ONCE * 10) !== 0) continue
      await until(
        `the other probe goes on after the bytes before number ${i}`,
        () => steady.acknowledged() > acknowledged,
        20_000,
      ).catch((error: unknown) => {
        throw new Error(`${String(error)}\n${hub.output().slice(-3000)}`, { cause: error })
      })
    }
    await steady.stop()
    const health = await hub.get<Health>('/api/health')
    expect(health.status).toBe('ok')
    // What was acknowledged is stored, and much of the rest lies in quarantine.
    await until('every reading is counted', async () => {
      const { counts } = await hub.get<Health>('/api/health')
      return counts.readings >= steady.acknowledged() && counts.quarantined > 100
    })
    expect(hub.output()).not.toMatch(/\n\s+at .*\.(ts|js):\d+/)
    expect(resident() - before).toBeLessThan(120 * 1024 * 1024)
  },
  longest(60_000),
)

/** Packets one after the other on one connection, which then breaks without a word. */
function connectPacket(clientId: string): Buffer {
  return generate({
    cmd: 'connect',
    clientId,
    clean: false,
    keepalive: 0,
    protocolId: 'MQTT',
    protocolVersion: 4,
  })
}

test(
  'sessions that never come back, ever new descriptions and messages never released do not fill the memory',
  async () => {
    const before = resident()
    const subscribe = generate({
      cmd: 'subscribe',
      messageId: 1,
      subscriptions: [{ topic: '#', qos: 1 }],
    })
    for (let i = 0; i < 400; i += AT_ONCE) {
      await Promise.all(
        Array.from({ length: AT_ONCE }, (_, k) =>
          throwAt(hub.mqttPort, Buffer.concat([connectPacket(`away${i + k}`), subscribe]), 100),
        ),
      )
    }
    const flood = Array.from({ length: 2000 }, (_, i) =>
      generate({
        cmd: 'publish',
        topic: `lm1/flood${i}/up/state`,
        payload: 'x'.repeat(1000),
        qos: i % 4 === 0 ? 2 : 0,
        messageId: i + 1,
        dup: false,
        retain: true,
      }),
    )
    const flooder = connect(hub.mqttPort, '127.0.0.1')
    flooder.on('error', () => undefined)
    flooder.write(connectPacket('flooder'))
    // Nothing may be sent before the hub has let it in.
    await once(flooder, 'data')
    flooder.on('data', () => undefined)
    flooder.write(Buffer.concat(flood))
    await until(
      'messages are turned away',
      () => hub.output().includes('no more messages wait for clients that do not fetch them'),
      30_000,
    )
    flooder.destroy()
    const steady = steadyProbe('steady2')
    await until('another probe is heard', () => steady.acknowledged() > 3, 20_000)
    await steady.stop()
    expect(resident() - before).toBeLessThan(200 * 1024 * 1024)
    expect(await hub.end()).toBe(0)
  },
  longest(60_000),
)
