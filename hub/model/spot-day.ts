/**
 * One probe in one spot on one UTC day, as the watch over the hours left it: what is slow (season, drift,
 * effects of amendments, forecast) is read from these rows, never from raw readings. NaN = not known.
 */
export interface SpotDay {
  readonly bedId: number
  readonly spotId: number
  readonly probe: string
  /** Epoch ms, start of the UTC day. */
  readonly day: number
  /** Median pH of the day's hours that counted (valid, moist, not being handled). */
  readonly ph: number
  /** How many hours counted, 0 to 24. */
  readonly hours: number
  /** Means of the day: moisture on the probe's own scale, its share of the available water, degrees Celsius. */
  readonly moisture: number
  readonly available: number
  readonly temperatureC: number
  /** True while the watch holds this spot apart from its bed: an electrode that moved by itself. */
  readonly apart: boolean
}
