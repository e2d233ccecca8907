/**
 * Columns of one probe channel, ascending in time. All columns have the same length.
 *
 * With step `raw` every row is one reading: `count` is 1 (0 when the sensor was tried and failed) and
 * min, mean, max and median are that value (and may be one array: columns are read, never written
 * into). With `hour` or `day` a row is one UTC hour or day that holds
 * at least one reading.
 * A missing value is NaN; zero is a measurement.
 */
export interface Buckets {
  readonly step: Step
  /** Epoch ms: the reading's time, or the start of the bucket. */
  readonly time: Float64Array
  readonly count: Float64Array
  readonly min: Float64Array
  readonly mean: Float64Array
  readonly max: Float64Array
  readonly median: Float64Array
}

export type Step = 'raw' | 'hour' | 'day'

export const STEP_MS: Readonly<Record<Step, number>> = { raw: 0, hour: 3_600_000, day: 86_400_000 }

/** Rows `from <= time < to` of one channel of one probe. Times are epoch ms. */
export interface BucketQuery {
  readonly probe: string
  readonly channel: string
  readonly from: number
  readonly to: number
  readonly step: Step
}

/** Columns of `length` rows filled with NaN, to be written by the caller. */
export function emptyBuckets(step: Step, length: number): Buckets {
  const column = (): Float64Array => new Float64Array(length).fill(NaN)
  return {
    step,
    time: column(),
    count: column(),
    min: column(),
    mean: column(),
    max: column(),
    median: column(),
  }
}
