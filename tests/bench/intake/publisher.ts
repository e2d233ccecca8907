import { connect } from 'node:net'
import type { Socket } from 'node:net'
import { generate } from 'mqtt-packet'
import { monotonic } from './monotonic.ts'

/*
 * A process that publishes readings at QoS 1 over plain sockets, so that what it costs weighs little on what
 * is measured. Packets are made before the clock starts.
 */

export interface Order {
  readonly port: number
  /** Readings and the number of the first one of each probe. */
  readonly messages: number
  readonly first: number
  readonly probes: number
  readonly connections: number
  /** Messages a second; 0 as fast as the window lets it. */
  readonly rate: number
}

export interface Report {
  readonly begun: number
  readonly ended: number
  /** When message k was written and when its PUBACK came. */
  readonly sent: Float64Array
  readonly confirmed: Float64Array
}

const WINDOW = 1000

/** Reading `k` of a run, round robin over the probes: four channels as an electrode, a moisture sensor, a thermometer and a battery give them. */
function packet(k: number, { first, probes }: Order, messageId: number): Buffer {
  const probe = k % probes
  const n = first + Math.floor(k / probes)
  const wander = (k * 7919) % 101
  const payload =
    `{"b":7,"n":${n},"u":${n * 60},"v":{"phmv":${(-400 + wander) / 8},"m1":${1500 + wander},` +
    `"st":${(240 + (wander >> 2)) / 16},"bat":3.9${n % 10}}}`
  return generate({
    cmd: 'publish',
    topic: `lm1/bench${probe}/up/r`,
    payload,
    qos: 1,
    messageId,
    dup: false,
    retain: false,
  })
}

async function dial(port: number, name: string): Promise<Socket> {
  const socket = connect(port, '127.0.0.1').setNoDelay(true)
  socket.write(
    generate({
      cmd: 'connect',
      protocolId: 'MQTT',
      protocolVersion: 4,
      clean: true,
      clientId: name,
      keepalive: 60,
    }),
  )
  await new Promise<void>((resolve, reject) => {
    socket.once('error', reject)
    socket.once('data', (connack: Buffer) =>
      connack[0] === 0x20 && connack[3] === 0 ? resolve() : reject(new Error('not let in')),
    )
  })
  return socket
}

export async function publish(order: Order): Promise<Report> {
  const { messages, connections, rate } = order
  const sockets = await Promise.all(
    Array.from({ length: connections }, (_, i) => dial(order.port, `sender${process.pid}x${i}`)),
  )
  const packets = Array.from({ length: messages }, (_, k) =>
    packet(k, order, (Math.floor(k / connections) % 65_000) + 1),
  )
  const sent = new Float64Array(messages)
  const confirmed = new Float64Array(messages)
  let acknowledged = 0
  const begun = monotonic()
  await new Promise<void>((resolve, reject) => {
    sockets.forEach((socket, lane) => {
      let next = lane
      let heard = lane
      let left = 0
      const more = (until: number): void => {
        const some: Buffer[] = []
        const now = monotonic()
        while (next < until && (next - heard) / connections < WINDOW / connections) {
          sent[next] = now
          some.push(packets[next]!)
          next += connections
        }
        if (some.length > 0) socket.write(Buffer.concat(some))
      }
      const due = (): number =>
        rate === 0
          ? messages
          : Math.min(messages, Math.floor(((monotonic() - begun) / 1000) * rate))
      socket.on('error', reject)
      socket.on('data', (chunk: Buffer) => {
        const now = monotonic()
        // Nothing but PUBACKs comes here: four bytes each.
        const bytes = left + chunk.length
        for (let i = bytes >> 2; i > 0; i--) {
          confirmed[heard] = now
          heard += connections
          acknowledged++
        }
        left = bytes & 3
        if (acknowledged === messages) resolve()
        else if (rate === 0) more(messages)
      })
      if (rate === 0) more(messages)
      else {
        const timer = setInterval(() => {
          more(due())
          if (next >= messages) clearInterval(timer)
        }, 1)
      }
    })
  })
  const ended = monotonic()
  for (const socket of sockets) socket.destroy()
  return { begun, ended, sent, confirmed }
}

process.on('message', (order: Order) => {
  publish(order).then(
    (report) => process.send?.(report),
    (error: unknown) => {
      throw error
    },
  )
})
process.on('disconnect', () => process.exit(0))
