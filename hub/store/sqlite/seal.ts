import { crc32 } from 'node:zlib'
import { DamagedContent } from './damaged-content.ts'

/** The last bytes of what is sealed: the CRC-32 (ITU-T V.42) of all before them, the lowest byte first. */
export const SEAL_BYTES = 4

/** Writes the seal into the last bytes, which are left free for it. */
export function seal(bytes: Uint8Array): void {
  const end = bytes.length - SEAL_BYTES
  viewOf(bytes).setUint32(end, crc32(bytes.subarray(0, end)), true)
}

/**
 * What stands before the seal, a view.
 *
 * @param what how a message calls it, such as 'a block'
 * @throws DamagedContent when the bytes are not those that were sealed
 */
export function unsealed(bytes: Uint8Array, what: string): Uint8Array {
  const end = bytes.length - SEAL_BYTES
  const body = bytes.subarray(0, Math.max(0, end))
  if (end < 0 || viewOf(bytes).getUint32(end, true) !== crc32(body))
    throw new DamagedContent(`${what} does not hold what was written`)
  return body
}

const viewOf = (bytes: Uint8Array): DataView =>
  new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
