/**
 * One pH a day with its doubt: columns of equal length, UTC days ascending, only days that have a value.
 * Treated bed, control bed and single spot all look like this to the slow methods.
 */
export interface DailySeries {
  /** Epoch ms, start of the UTC day. */
  readonly day: Float64Array
  readonly value: Float64Array
  /** Standard error of the value, pH. */
  readonly se: Float64Array
}
