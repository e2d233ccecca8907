import type { Sensed } from '../model/quantity.ts'

/** A row that cannot be used. */
export interface BadRow {
  /** Line of the file, from 1. */
  readonly line: number
  /** Heading of the column it is about; null: the row as a whole. */
  readonly column: string | null
  readonly expected: string
  readonly got: string
}

/** A channel of a file as it would be stored. */
export interface ImportChannel {
  readonly name: string
  readonly senses: Sensed
  /** The unit it is stored in. */
  readonly unit: string
  /** True: the probe does not have it yet. */
  readonly isNew: boolean
}

export interface ImportProbe {
  readonly id: string
  readonly isNew: boolean
  readonly readings: number
  /** Epoch ms of its first and last reading in the file. */
  readonly from: number
  readonly to: number
  readonly channels: readonly ImportChannel[]
}

/** A row as it would be read. */
export interface PreviewRow {
  readonly line: number
  readonly at: number
  readonly probe: string
  readonly values: readonly { readonly channel: string; readonly value: number }[]
}

/** What a file holds, once every row was looked at. */
export interface ImportReport {
  readonly rows: number
  /** Rows in which nothing was measured. */
  readonly empty: number
  readonly badCount: number
  /** The first of them. */
  readonly bad: readonly BadRow[]
  readonly probes: readonly ImportProbe[]
  /** Readings: the values of one probe at one moment. */
  readonly readings: number
  /** Of those, already stored. */
  readonly present: number
  readonly preview: readonly PreviewRow[]
}
