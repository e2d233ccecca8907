import type { TakenMessage } from '../spool-store.ts'

/** Messages for a trip between threads: two buffers that move instead of thousands that are copied. */
export interface PackedMessages {
  /** Per message: arrival, flags, bytes of the topic, bytes of the payload. */
  readonly numbers: Float64Array<ArrayBuffer>
  /** Topic and payload of one message after the other. */
  readonly bytes: Uint8Array<ArrayBuffer>
  /** Why some are only kept aside, by place. */
  readonly refused: ReadonlyMap<number, string>
}

const WIDTH = 4
const DELAYED = 1
const RETAINED = 2

export function packMessages(messages: readonly TakenMessage[]): PackedMessages {
  const numbers = new Float64Array(messages.length * WIDTH)
  const refused = new Map<number, string>()
  const topics = messages.map(({ topic }) => Buffer.from(topic))
  const size = messages.reduce((sum, m, i) => sum + topics[i]!.length + m.payload.length, 0)
  const bytes = new Uint8Array(size)
  let at = 0
  for (const [i, message] of messages.entries()) {
    const topic = topics[i]!
    numbers[i * WIDTH] = message.arrivedAt
    numbers[i * WIDTH + 1] = (message.mayBeDelayed ? DELAYED : 0) + (message.retain ? RETAINED : 0)
    numbers[i * WIDTH + 2] = topic.length
    numbers[i * WIDTH + 3] = message.payload.length
    bytes.set(topic, at)
    bytes.set(message.payload, at + topic.length)
    at += topic.length + message.payload.length
    if (message.refused !== undefined) refused.set(i, message.refused)
  }
  return { numbers, bytes, refused }
}

/** One message as it stands in a row. */
export interface PackedMessage {
  readonly topic: string
  readonly payload: Uint8Array
  readonly arrivedAt: number
  readonly flags: number
  readonly refused: string | null
}

export function* unpackMessages(packed: PackedMessages): Generator<PackedMessage> {
  const { numbers, bytes, refused } = packed
  const whole = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length)
  let at = 0
  for (let i = 0; i * WIDTH < numbers.length; i++) {
    const topicEnd = at + numbers[i * WIDTH + 2]!
    const end = topicEnd + numbers[i * WIDTH + 3]!
    yield {
      topic: whole.toString('utf8', at, topicEnd),
      payload: bytes.subarray(topicEnd, end),
      arrivedAt: numbers[i * WIDTH]!,
      flags: numbers[i * WIDTH + 1]!,
      refused: refused.get(i) ?? null,
    }
    at = end
  }
}

/** A message as the rest of the program knows it. */
export function messageOf(packed: PackedMessage): TakenMessage {
  const { topic, payload, arrivedAt, flags, refused } = packed
  return {
    topic,
    payload,
    arrivedAt,
    mayBeDelayed: (flags & DELAYED) !== 0,
    retain: (flags & RETAINED) !== 0,
    ...(refused === null ? {} : { refused }),
  }
}
