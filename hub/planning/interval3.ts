/** A value and the ends of its 95 % interval. */
export interface Interval3 {
  readonly value: number
  readonly low: number
  readonly high: number
}
