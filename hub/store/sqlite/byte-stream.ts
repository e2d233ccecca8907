import { DamagedContent } from './damaged-content.ts'

/*
 * Whole numbers as a stream of bytes: seven bits a byte, the lowest first, the eighth says that more follow
 * (LEB128, as in DWARF 5, section 7.6); signed ones folded first so that small ones of either sign are short.
 */

export interface ByteWriter {
  /** A whole number from 0 to 2^53 - 1. */
  uint(value: number): void
  /** A whole number of at most 2^52 - 1 either way. */
  int(value: number): void
  double(value: number): void
  bytes(value: Uint8Array): void
  readonly length: number
  /** Forgets what was written after a length. */
  cut(length: number): void
  /** A copy of what was written, for good. */
  take(): Uint8Array<ArrayBuffer>
}

const LARGE = 0x4000_0000

export function createByteWriter(): ByteWriter {
  let buffer = Buffer.allocUnsafe(1 << 16)
  let at = 0

  function room(bytes: number): void {
    if (at + bytes <= buffer.length) return
    const grown = Buffer.allocUnsafe(Math.max(buffer.length * 2, at + bytes))
    buffer.copy(grown, 0, 0, at)
    buffer = grown
  }
  function uint(value: number): void {
    room(8)
    let rest = value
    while (rest >= LARGE) {
      buffer[at++] = (rest % 128) | 0x80
      rest = Math.floor(rest / 128)
    }
    while (rest > 0x7f) {
      buffer[at++] = (rest & 0x7f) | 0x80
      rest >>>= 7
    }
    buffer[at++] = rest
  }
  return {
    uint,
    int: (value) => uint(value < 0 ? -2 * value - 1 : 2 * value),
    double(value) {
      room(8)
      at = buffer.writeDoubleLE(value, at)
    },
    bytes(value) {
      room(value.length)
      buffer.set(value, at)
      at += value.length
    },
    get length() {
      return at
    },
    cut(length) {
      at = length
    },
    take() {
      const taken = new Uint8Array(at)
      taken.set(buffer.subarray(0, at))
      at = 0
      return taken
    },
  }
}

export interface ByteReader {
  uint(): number
  int(): number
  double(): number
  /** The next `length` bytes, a view. */
  bytes(length: number): Uint8Array
  skip(length: number): void
  readonly position: number
}

/** @throws RangeError past the end: the bytes are not what was written */
export function createByteReader(source: Uint8Array, from = 0): ByteReader {
  const view = new DataView(source.buffer, source.byteOffset, source.byteLength)
  let at = from

  function uint(): number {
    let value = 0
    let weight = 1
    for (;;) {
      const byte = source[at++]
      if (byte === undefined) throw new DamagedContent('the bytes end within a number')
      if (byte < 0x80) return value + byte * weight
      value += (byte & 0x7f) * weight
      weight *= 128
    }
  }
  return {
    uint,
    int() {
      const folded = uint()
      return folded % 2 === 0 ? folded / 2 : -(folded + 1) / 2
    },
    double() {
      if (at + 8 > source.length) throw new DamagedContent('the bytes end within a number')
      const value = view.getFloat64(at, true)
      at += 8
      return value
    },
    bytes(length) {
      if (at + length > source.length) throw new DamagedContent('the bytes end too early')
      at += length
      return source.subarray(at - length, at)
    },
    skip(length) {
      at += length
    },
    get position() {
      return at
    },
  }
}
