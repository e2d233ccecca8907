import { once } from 'node:events'
import { createServer, Socket } from 'node:net'
import { freePort } from '../ports.ts'
import { createLane, type Lane } from './lane.ts'

/**
 * - `up`: everything passes.
 * - `refused`: nobody listens; what is open is reset.
 * - `swallowed`: connections are taken and stay open, nothing passes in either direction.
 * - `deaf`: what the client says passes, nothing comes back to it.
 *
 * What was held comes through once the link is up, as it does when a network comes back.
 */
export type Link = 'up' | 'refused' | 'swallowed' | 'deaf'
export type Direction = 'to server' | 'to client'

/** A TCP proxy on 127.0.0.1 whose link breaks in the ways that a network at home breaks. */
export interface FaultProxy extends AsyncDisposable {
  readonly host: '127.0.0.1'
  /** Stays the same, also while it refuses. */
  readonly port: number
  /** Connections that were taken so far. */
  accepted(): number
  /** Bytes that passed so far. */
  passed(direction: Direction): number
  setLink(link: Link): Promise<void>
  /** What comes in from now on is held back for so long, each way. */
  delay(ms: number): void
  /** Each connection passes at most so many bytes a second in each direction; null: as many as it likes. */
  slow(bytesPerSecond: number | null): void
  /** Resets what is open (RST). */
  reset(): void
  /** Ends what is open (FIN), from both sides. */
  end(): void
  /** Resets the connection on which the so-manyeth byte from now passes, behind that byte; once. */
  cutAfter(bytes: number, direction?: Direction): void
  /** How often it has cut. */
  cuts(): number
}

interface Pair {
  readonly client: Socket
  readonly server: Socket
}

export async function faultProxy(target: {
  readonly host: string
  readonly port: number
}): Promise<FaultProxy> {
  const port = await freePort()
  const pairs = new Set<Pair>()
  const lanes = new Set<Lane>()
  const passed = { 'to server': 0, 'to client': 0 }
  let link: Link = 'up'
  let delayMs = 0
  let rate: number | null = null
  let cut: { direction: Direction; left: number } | null = null
  let accepted = 0
  let cuts = 0

  const isHeld = (direction: Direction): boolean =>
    link === 'swallowed' || (link === 'deaf' && direction === 'to client')

  function resetPair({ client, server }: Pair): void {
    if (!client.destroyed) client.resetAndDestroy()
    if (!server.destroyed) server.resetAndDestroy()
  }

  function lane(from: Socket, to: Socket, direction: Direction, pair: Pair): Lane {
    const made = createLane(from, to, {
      isHeld: () => isHeld(direction),
      delayMs: () => delayMs,
      bytesPerSecond: () => rate,
      untilCut: () => (cut?.direction === direction ? cut.left : null),
      onPassed(bytes) {
        passed[direction] += bytes
        if (cut?.direction !== direction) return
        cut.left -= bytes
        if (cut.left > 0) return
        cut = null
        cuts += 1
        resetPair(pair)
      },
    })
    lanes.add(made)
    return made
  }

  const listener = createServer({ allowHalfOpen: true, noDelay: true }, (client) => {
    accepted += 1
    const server = new Socket({ allowHalfOpen: true }).setNoDelay(true)
    const pair: Pair = { client, server }
    pairs.add(pair)
    if (!isHeld('to server')) server.connect(target)
    const ours = [lane(client, server, 'to server', pair), lane(server, client, 'to client', pair)]
    for (const [mine, other, direction] of [
      [client, server, 'to server'],
      [server, client, 'to client'],
    ] as const) {
      // A fault of one side is news for the other only while the link lets news through.
      mine.on('error', () => {
        if (!isHeld(direction) && !other.destroyed) other.resetAndDestroy()
      })
      mine.on('close', () => {
        if (!client.destroyed || !server.destroyed) return
        pairs.delete(pair)
        for (const l of ours) {
          l.stop()
          lanes.delete(l)
        }
      })
    }
  })

  async function listen(): Promise<void> {
    listener.listen(port, '127.0.0.1')
    await once(listener, 'listening')
  }
  await listen()

  return {
    host: '127.0.0.1',
    port,
    accepted: () => accepted,
    passed: (direction) => passed[direction],
    cuts: () => cuts,
    async setLink(next) {
      if (next === 'refused' && link !== 'refused') {
        const closed = once(listener, 'close')
        listener.close()
        for (const pair of pairs) resetPair(pair)
        await closed
      }
      if (next !== 'refused' && link === 'refused') await listen()
      link = next
      for (const l of lanes) l.goOn()
      for (const { client, server } of pairs) {
        if (!isHeld('to server')) {
          if (client.destroyed) server.destroy()
          else if (server.pending && !server.connecting) server.connect(target)
        }
        // Who went while nothing passed is missed now.
        if (!isHeld('to client') && server.destroyed) client.destroy()
      }
    },
    delay(ms) {
      delayMs = ms
    },
    slow(bytesPerSecond) {
      rate = bytesPerSecond
    },
    reset() {
      for (const pair of pairs) resetPair(pair)
    },
    end() {
      for (const { client, server } of pairs) {
        client.end()
        server.end()
      }
    },
    cutAfter(bytes, direction = 'to server') {
      cut = { direction, left: bytes }
    },
    async [Symbol.asyncDispose]() {
      for (const l of lanes) l.stop()
      for (const { client, server } of pairs) {
        client.destroy()
        server.destroy()
      }
      if (!listener.listening) return
      listener.close()
      await once(listener, 'close')
    },
  }
}
