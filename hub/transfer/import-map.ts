import type { Sensed } from '../model/quantity.ts'
import type { TimeFormat } from './read-time.ts'

/** A channel that readings of a file go to. */
export interface ChannelMap {
  /** Heading of its column, or the name of its field; of a long table: what stands in the channel column. */
  readonly column: string
  /** Name of the channel of the probe. */
  readonly channel: string
  /** Unit in the file; empty: the channel's own. */
  readonly unit: string
  /** What it senses, where the probe has no such channel yet; null: as its name says. */
  readonly senses: Sensed | null
}

interface TimeMap {
  readonly column: string
  readonly format: TimeFormat
  /** IANA zone of times without an offset, or 'UTC'. */
  readonly zone: string
}

/** Where the id of the probe stands, or which it is. */
type ProbeMap = { readonly column: string } | { readonly id: string }

/** How the columns of a file become readings. Columns go by their heading, or '#1', '#2' ... where there is none. */
export type ImportMap =
  | {
      /** One column a channel. */
      readonly layout: 'wide'
      readonly delimiter: Delimiter
      readonly decimal: '.' | ','
      /** Whether the first row holds headings. */
      readonly headings: boolean
      readonly time: TimeMap
      readonly probe: ProbeMap
      readonly channels: readonly ChannelMap[]
    }
  | {
      /** One value a row. */
      readonly layout: 'long'
      readonly delimiter: Delimiter
      readonly decimal: '.' | ','
      readonly headings: boolean
      readonly time: TimeMap
      readonly probe: ProbeMap
      readonly channelColumn: string
      readonly valueColumn: string
      /** Column with the unit of each value; null: the channel's own unless `channels` says otherwise. */
      readonly unitColumn: string | null
      /** Names in the file that are other channels here, or in another unit. */
      readonly channels: readonly ChannelMap[]
    }
  | {
      /** InfluxDB line protocol. */
      readonly layout: 'lines'
      readonly precision: Precision
      /** The tag that names the probe, or which it is. */
      readonly probe: ProbeMap
      /** Fields that are other channels here, or in another unit; others are channels by their own name. */
      readonly channels: readonly ChannelMap[]
    }
  | {
      /** SenML in JSON (RFC 8428). A name ends with the channel, after a colon or slash; before it stands the probe. */
      readonly layout: 'senml'
      /** Column 'name': the part of the name before the channel. */
      readonly probe: ProbeMap
      /** Ends of names that are other channels here, or in another unit. */
      readonly channels: readonly ChannelMap[]
    }

export const DELIMITERS = [',', ';', '\t', '|'] as const
export type Delimiter = (typeof DELIMITERS)[number]

/** Nanoseconds in one unit of a time stamp. */
export const PRECISIONS = { ns: 1n, us: 1000n, ms: 1_000_000n, s: 1_000_000_000n } as const
export type Precision = keyof typeof PRECISIONS
