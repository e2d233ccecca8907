import type { Socket } from 'node:net'

/** Largest whole MQTT packet a client may send to the embedded broker, bytes. */
export const MAX_PACKET_BYTES = 4096
/** Four bytes of remaining length at most (MQTT 3.1.1, 2.2.3). */
const MAX_LENGTH_BYTES = 4

/**
 * Follows the packet borders in a client's byte stream and says when a packet announces more than `max`
 * bytes, before its body has been taken in. The broker library has no such limit of its own.
 */
export function createByteLimit(
  max: number = MAX_PACKET_BYTES,
): (chunk: Uint8Array) => number | null {
  /** Bytes of the present packet's body still to come; -1 while its header is being read. */
  let body = 0
  let header = 0
  let length = 0
  return (chunk) => {
    let i = 0
    while (i < chunk.length) {
      if (body > 0) {
        const skip = Math.min(body, chunk.length - i)
        body -= skip
        i += skip
        continue
      }
      const byte = chunk[i++] ?? 0
      if (header === 0) {
        header = 1
        length = 0
        continue
      }
      length += (byte & 0x7f) * 128 ** (header - 1)
      header++
      const more = (byte & 0x80) !== 0
      if (length + header > max || (more && header > MAX_LENGTH_BYTES)) return length + header
      if (!more) {
        body = length
        header = 0
      }
    }
    return null
  }
}

/** Ends a connection as soon as a packet on it is larger than the limit. */
export function limitPackets(socket: Socket, tooLarge: (bytes: number) => void): void {
  const check = createByteLimit()
  const read = socket.read.bind(socket)
  // The broker takes every byte by `read`, so that is the one place to look at them all in order.
  socket.read = (size?: number): unknown => {
    const chunk: unknown = read(size)
    if (!(chunk instanceof Uint8Array)) return chunk
    const bytes = check(chunk)
    if (bytes === null) return chunk
    tooLarge(bytes)
    socket.destroy()
    return null
  }
}
