import type { Socket } from 'node:net'
import type { Client } from 'aedes'
import { MAX_PACKET_BYTES } from './byte-limit.ts'
import { createPubackWriter, type PubackWriter } from './puback-writer.ts'
import { layPublishLane } from './publish-lane.ts'
import type { Funnel } from './funnel.ts'

/** The library counts silence by what it is given; the shortest keep-alive is a second. */
const LEFT_EVERY_MS = 500
const READINGS = /^lm1\/[^/]+\/up\/[rb]$/

export interface ClientLanesOptions {
  readonly funnel: Funnel
  /** Whether readings may go past the broker library now: nobody else wants them. */
  readonly isOpen: () => boolean
  /** Takes a message as the library would hand it over; false leaves it to the library. */
  readonly take: (
    client: Client,
    topic: string,
    payload: Buffer,
    settled: (error: Error | null, messageId: number) => void,
    messageId: number,
  ) => boolean
}

/** A short way for the readings of clients that have been let in at the embedded broker. */
export interface ClientLanes {
  /** Every new connection, before the library has it. */
  readonly lay: (socket: Socket) => void
  /** A client was let in: its readings may take the short way. */
  readonly open: (client: Client) => void
  /** The library has come to a message of a client. */
  readonly seen: (client: Client) => void
  /**
   * The library is about to confirm a message of a client: what came before it is confirmed first
   * (MQTT 3.1.1, 4.6: PUBACKs in the order of the PUBLISH packets).
   */
  readonly before: (client: Client) => void
}

interface Lane {
  client: Client | null
  readonly pubacks: PubackWriter
  /** Messages the library was left with and has not come to yet. */
  left: number
  leftAt: number
}

export function createClientLanes(options: ClientLanesOptions): ClientLanes {
  const { funnel, isOpen, take } = options
  const lanes = new WeakMap<object, Lane>()

  return {
    lay(socket) {
      const pubacks = createPubackWriter(socket)
      const lane: Lane = { client: null, pubacks, left: 0, leftAt: 0 }
      lanes.set(socket, lane)
      const settled = (error: Error | null, messageId: number): void => {
        if (error === null) pubacks.confirm(messageId)
        else socket.destroy()
      }
      layPublishLane(socket, {
        version: 4,
        longest: MAX_PACKET_BYTES,
        isOpen: () =>
          lane.client !== null &&
          // Nothing may overtake what the library has before it.
          lane.left === 0 &&
          isOpen() &&
          performance.now() - lane.leftAt < LEFT_EVERY_MS,
        onLeft() {
          lane.left++
          lane.leftAt = performance.now()
        },
        take: (topic, payload, messageId) =>
          lane.client !== null &&
          READINGS.test(topic) &&
          take(lane.client, topic, payload, settled, messageId),
        isFull: () => funnel.isFull(),
        whenRoom: (resume) => funnel.whenRoom(resume),
      })
    },
    open(client) {
      const lane = lanes.get(client.conn)
      if (lane !== undefined) lane.client = client
    },
    seen(client) {
      const lane = lanes.get(client.conn)
      if (lane !== undefined) lane.left = Math.max(0, lane.left - 1)
    },
    before(client) {
      lanes.get(client.conn)?.pubacks.flush()
    },
  }
}
