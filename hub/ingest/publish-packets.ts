import type { Downlink } from './ingest.ts'

/**
 * PUBLISH packets at QoS 0, one behind the other: first byte with the retain bit, remaining length in bytes of
 * seven bits, the topic with its length, in MQTT 5 no properties, the payload (MQTT 3.1.1, 3.3; MQTT 5, 3.3).
 */
export function publishPackets(messages: readonly Downlink[], version: 4 | 5): Buffer {
  const properties = version === 5 ? 1 : 0
  const sizes = messages.map(({ topic, payload }) => ({
    topic: Buffer.byteLength(topic),
    payload: Buffer.byteLength(payload),
  }))
  const most = sizes.reduce((sum, size) => sum + 8 + size.topic + size.payload, 0)
  const packets = Buffer.allocUnsafe(most)
  let at = 0
  messages.forEach(({ topic, payload, retain }, i) => {
    const size = sizes[i]!
    packets[at++] = 0x30 | (retain ? 1 : 0)
    let left = 2 + size.topic + properties + size.payload
    for (; left > 0x7f; left >>>= 7) packets[at++] = (left & 0x7f) | 0x80
    packets[at++] = left
    at = packets.writeUInt16BE(size.topic, at)
    at += packets.write(topic, at)
    if (version === 5) packets[at++] = 0
    at += packets.write(payload, at)
  })
  return packets.subarray(0, at)
}
