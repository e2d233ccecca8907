import type { Socket } from 'node:net'
import { topicText } from './topic-text.ts'

/*
 * A short way for readings past the packet machinery of the MQTT libraries. Nearly all bytes a hub gets are
 * PUBLISH packets at QoS 1 with readings; here they are cut out of the stream before the library sees it, and
 * everything else is handed on unchanged, in order.
 *
 * MQTT 3.1.1, 2.2 and 3.3, MQTT 5, 2.1 and 3.3: first byte type and flags, then the remaining length in one to
 * four bytes of seven bits, then the topic with its length, the packet id, in MQTT 5 the properties, the payload.
 */

export interface PublishLaneOptions {
  readonly version: 4 | 5
  /** Longer packets are none of this lane's business, bytes. */
  readonly longest: number
  /** Whether the short way may be taken now; asked for every packet. */
  readonly isOpen: () => boolean
  /** Takes a message; false leaves it to the library. */
  readonly take: (topic: string, payload: Buffer, messageId: number, retain: boolean) => boolean
  /** A PUBLISH is handed to the library. @default nobody cares */
  readonly onLeft?: () => void
  /** Whether too much waits already; then nothing is taken from the socket until `resume`. */
  readonly isFull: () => boolean
  /** Calls back once when there is room. */
  readonly whenRoom: (resume: () => void) => void
}

const PUBLISH = 3
const NOTHING = Buffer.alloc(0)

/** A packet in a stretch of bytes; null when its head is not all there. */
interface Frame {
  /** Where what follows the remaining length begins, and where the packet ends. */
  readonly body: number
  readonly end: number
}

/** The packet that begins at `from`; 'endless' when its length is none. */
function frameAt(bytes: Buffer, from: number): Frame | null | 'endless' {
  let length = 0
  let weight = 1
  for (let i = from + 1; ; i++) {
    if (i > from + 4) return 'endless'
    const byte = bytes[i]
    if (byte === undefined) return null
    length += (byte & 0x7f) * weight
    weight *= 128
    if (byte < 0x80) return { body: i + 1, end: i + 1 + length }
  }
}

/** Reads the bytes of one PUBLISH at QoS 1; null when there is something unusual about them. */
function readPublish(
  bytes: Buffer,
  { body, end }: Frame,
  version: 4 | 5,
): { readonly topic: string; readonly messageId: number; readonly payload: Buffer } | null {
  if (end - body < 4) return null
  const topicLength = bytes.readUInt16BE(body)
  let at = body + 2 + topicLength
  if (topicLength === 0 || at + 2 > end) return null
  const topic = topicText(bytes, body + 2, at)
  const messageId = bytes.readUInt16BE(at)
  at += 2
  if (version === 5) {
    // Properties of a reading say nothing to the hub; more than 127 bytes of them is not usual.
    const properties = bytes[at] ?? 0x80
    if (properties > 0x7f) return null
    at += 1 + properties
    if (at > end) return null
  }
  return messageId === 0 ? null : { topic, messageId, payload: bytes.subarray(at, end) }
}

/**
 * Puts the lane between a socket and the library that reads it.
 *
 * Rests on this: a socket hands what it has read to its stream by calling `push` on itself (streams of Node,
 * "Implementing a readable stream"), and reads on only when that returned true. A test holds both.
 */
export function layPublishLane(socket: Socket, options: PublishLaneOptions): void {
  const push = socket.push.bind(socket)
  /** Bytes of a packet that is not whole yet, or that wait for room. */
  let held: Buffer = NOTHING
  /** Bytes of a long packet that are still to come, handed on as they are. */
  let passing = 0
  let stopped = false

  /** Takes what it may from the bytes; returns what is the library's, nothing or a stretch of them. */
  function feed(chunk: Buffer): Buffer {
    const bytes = held.length === 0 ? chunk : Buffer.concat([held, chunk])
    let from = 0
    /** Where the library's part begins; -1 when it has none so far. */
    let begun = -1
    if (passing > 0) {
      from = Math.min(passing, bytes.length)
      passing -= from
      begun = 0
    }
    while (from < bytes.length) {
      const frame = frameAt(bytes, from)
      if (frame === null) break
      if (frame === 'endless' || frame.end - from > options.longest) {
        // The library says what it thinks of it.
        if (begun < 0) begun = from
        passing = frame === 'endless' ? Infinity : frame.end - bytes.length
        from = bytes.length
        if (passing < 0) {
          from += passing
          passing = 0
        }
        continue
      }
      if (frame.end > bytes.length) break
      const first = bytes[from]!
      if (first >> 4 === PUBLISH) {
        const isQos1 = (first & 0x06) === 0x02
        // Once something was left to the library in this stretch, what follows it must not overtake it.
        if (begun < 0 && isQos1 && options.isOpen()) {
          if (options.isFull()) {
            stopped = true
            options.whenRoom(resume)
            break
          }
          const message = readPublish(bytes, frame, options.version)
          const retain = (first & 1) === 1
          if (
            message !== null &&
            options.take(message.topic, message.payload, message.messageId, retain)
          ) {
            from = frame.end
            continue
          }
        }
        options.onLeft?.()
      }
      if (begun < 0) begun = from
      from = frame.end
    }
    held = from === bytes.length ? NOTHING : bytes.subarray(from)
    return begun < 0 ? NOTHING : bytes.subarray(begun, from)
  }

  function resume(): void {
    if (!stopped || socket.destroyed) return
    stopped = false
    const left = feed(NOTHING)
    // Also an empty push: it tells the stream that its read is over, and it begins the next.
    if (!stopped || left.length > 0) push(left)
  }

  socket.push = (chunk: Buffer | null): boolean => {
    if (chunk === null) {
      if (held.length > 0 && !stopped) push(held)
      return push(null)
    }
    const left = feed(chunk)
    if (!stopped) return push(left)
    if (left.length > 0) push(left)
    return false
  }
}
