import type { ChannelValue, Reading } from '../model/reading.ts'

/** What a file says was measured: one probe, one moment. */
export interface FileReading {
  readonly probe: string
  /** Epoch ms, whole. */
  readonly at: number
  readonly values: readonly ChannelValue[]
}

const UINT32 = 2 ** 32
/** So many kinds of readings of one probe and moment have names of their own. */
const KINDS = 2 ** 20

/**
 * The name of a reading from a file, made of its moment and its channels alone: the same reading has the same name
 * whatever file it comes in. Its boot lies beyond those a probe can have (uint32), so the two never meet.
 */
export function nameOf({ at, values }: FileReading): {
  readonly boot: number
  readonly seq: number
} {
  const channels = values.map(({ channel }) => channel).sort()
  return {
    boot: UINT32 * (1 + (hash(channels.join(' ')) % KINDS)) + Math.floor(at / UINT32),
    seq: at % UINT32,
  }
}

/** As the store takes it. `arrivedAt`: the moment of the import, epoch ms. */
export function storedReading(reading: FileReading, arrivedAt: number): Reading {
  return {
    probe: reading.probe,
    ...nameOf(reading),
    uptimeS: Math.floor(reading.at / 1000),
    at: reading.at,
    placedBy: 'file',
    arrivedAt,
    deviceAt: null,
    flags: 0,
    values: reading.values,
  }
}

/** FNV-1a, 32 bit (G. Fowler, L. C. Noll, K.-P. Vo, D. Eastlake, "The FNV Non-Cryptographic Hash Algorithm"). */
function hash(text: string): number {
  let h = 0x811c9dc5
  for (const byte of new TextEncoder().encode(text)) h = Math.imul(h ^ byte, 0x01000193)
  return h >>> 0
}
