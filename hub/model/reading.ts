/** How a reading got its time. */
export type PlacedBy =
  /** The moment it reached the hub: a live reading. */
  | 'arrival'
  /** The probe's own clock, which agreed with the hub's to within five minutes. */
  | 'device'
  /** The probe's uptime, interpolated between moments at which uptime and the hub's clock were both known. */
  | 'anchors'
  /** No anchor for that boot: only bounded by the boots around it. Kept out of trends. */
  | 'bounded'
  /** The time that stood in a file the gardener brought in. */
  | 'file'

/** Boot id of plain numbers, which carry none; no probe may use it. */
export const PLAIN_BOOT = 4_294_967_295

/** One value of one channel. NaN: the sensor was tried and failed. */
export interface ChannelValue {
  readonly channel: string
  readonly value: number
}

/**
 * One measurement of one probe as received: electrical values as sent, never rewritten.
 * `(probe, boot, seq)` names it for ever; the same triple again is the same reading.
 */
export interface Reading {
  /** Probe id, `^[a-z][a-z0-9]{2,22}$`. */
  readonly probe: string
  /** Boot id: changes when the probe lost its sequence. uint32; from 2^32 on for readings out of files. */
  readonly boot: number
  /** Sequence number within the boot, uint32, from 0. */
  readonly seq: number
  /** Seconds since boot at the measurement. */
  readonly uptimeS: number
  /** Best knowledge of when it was measured, epoch ms. */
  readonly at: number
  readonly placedBy: PlacedBy
  /** When it reached the hub, epoch ms. */
  readonly arrivedAt: number
  /** What the probe's own clock said, epoch ms, believed or not; null when it sent none. */
  readonly deviceAt: number | null
  /** Flag bits of the wire format: 1 not settled, 2 clipped, 4 supply low, 8 watchdog restart, 16 wetting seen. */
  readonly flags: number
  /** Sample spread of channel `x`, when sent, is the channel `x.s`. */
  readonly values: readonly ChannelValue[]
}

/** A moment at which a probe's uptime and the hub's clock were both known. */
export interface Anchor {
  readonly probe: string
  readonly boot: number
  readonly uptimeS: number
  /** Epoch ms on the hub's clock. */
  readonly at: number
}

/** How far one boot of one probe is stored without a hole. */
export interface BootMark {
  readonly probe: string
  readonly boot: number
  /** Every seq up to and including this one is stored or written off; -1 when none. */
  readonly top: number
  /** How many of those are written off: the probe no longer holds them. */
  readonly lost: number
  /** How many below `highest` are neither stored nor written off. */
  readonly missing: number
  /** The highest seq known to have been taken; -1 when none. */
  readonly highest: number
  /** Arrival of the newest message of this boot, epoch ms. */
  readonly lastAt: number
}

/** What became of the readings of one boot of one probe. */
export interface BootAccount {
  readonly probe: string
  readonly boot: number
  /** Readings stored, each number once. */
  readonly received: number
  /** How many of those were not sent when they were measured. */
  readonly late: number
  /** Arrivals of a reading already stored. */
  readonly duplicates: number
  /** Numbers that are absent so far, and that the probe may still send. */
  readonly missing: number
  /** Numbers the probe no longer holds; one that turns up after all is taken off. */
  readonly lost: number
  /** The same number with other content: a fault of the firmware. */
  readonly conflicting: number
  /** How many of the received were placed in time in which way. */
  readonly placed: Readonly<Record<PlacedBy, number>>
  /** First and last arrival, epoch ms. */
  readonly firstAt: number
  readonly lastAt: number
}

/** When a reading was measured and how that is known; without its values. */
export type PlacedReading = Pick<
  Reading,
  'boot' | 'seq' | 'at' | 'arrivedAt' | 'placedBy' | 'flags'
>

/** A message nobody could use, kept as it came. */
export interface Quarantined {
  readonly arrivedAt: number
  readonly topic: string
  readonly payload: Uint8Array
  /** What was expected and what came, in a sentence. */
  readonly reason: string
}

/** Everything one commit makes durable. */
export interface IntakeBatch {
  readonly readings: readonly Reading[]
  readonly anchors: readonly Anchor[]
  readonly marks: readonly BootMark[]
  readonly quarantined: readonly Quarantined[]
}
