/** How long raw readings are kept as they came. */
export interface Retention {
  /** Readings older than this become hours; null: they are kept for ever. */
  readonly rawMonths: number | null
  /** When somebody decided that, epoch ms; null: nobody did yet. */
  readonly decidedAt: number | null
}

/** Less than this is never thinned: the rules, the quality tests and calibrating look back so far at single readings. */
export const LEAST_RAW_MONTHS = 3
export const MOST_RAW_MONTHS = 600

/** How full the disk was on one day: the last look of it. */
export interface StorageDay {
  /** Epoch ms. */
  readonly at: number
  /** Everything in the data folder, bytes. */
  readonly usedBytes: number
  readonly freeBytes: number
  readonly totalBytes: number
  /** Readings stored, each once. */
  readonly readings: number
}
