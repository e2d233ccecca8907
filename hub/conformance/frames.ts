/** Bytes of one whole MQTT packet, or null while it is not all there. */
export interface Frames {
  /**
   * @throws RangeError when the bytes cannot be MQTT: a length of more than four bytes (MQTT 3.1.1, 2.2.3)
   */
  push(bytes: Uint8Array): readonly Uint8Array[]
}

const LENGTH_BYTES = 4

/** Cuts a stream of bytes into MQTT packets by their length, so that each can be passed on as it came. */
export function frames(): Frames {
  let rest: Uint8Array = new Uint8Array(0)
  return {
    push(bytes) {
      rest = rest.length === 0 ? bytes : Buffer.concat([rest, bytes])
      const whole: Uint8Array[] = []
      for (;;) {
        const length = lengthOf(rest)
        if (length === null || rest.length < length) return whole
        whole.push(rest.subarray(0, length))
        rest = rest.subarray(length)
      }
    },
  }
}

function lengthOf(bytes: Uint8Array): number | null {
  let length = 0
  for (let i = 1; i <= LENGTH_BYTES; i++) {
    const byte = bytes[i]
    if (byte === undefined) return null
    length += (byte & 127) * 128 ** (i - 1)
    if (byte < 128) return 1 + i + length
  }
  throw new RangeError('expected an MQTT packet, got a length of more than four bytes')
}
