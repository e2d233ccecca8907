import type { MoistureScale } from '../measure/spot-history.ts'

/** What one probe in one spot showed in one hour, converted and checked. NaN = missing. */
export interface HourRow {
  readonly spotId: number
  readonly probe: string
  /** Median pH of the hour. */
  readonly ph: number
  /** Readings behind it. */
  readonly count: number
  /** Electrical value as sent, and whether lowest and highest of the hour were the same. */
  readonly raw: number
  readonly still: boolean
  /** The probe shows steps coarser than 0.005 pH, or does not say: standing still for hours is nothing odd. */
  readonly coarse: boolean
  /** Bits of `FLAG` without the dry one: whether the soil is moist enough is learned by the watch. */
  readonly flags: number
  /** Median and lowest moisture of the hour: an electrode out of the soil shows next to none. */
  readonly moisture: number
  readonly moistureLow: number
  readonly moistureScale: MoistureScale
  readonly temperatureC: number
}

/** All rows of one bed in one UTC hour. */
export interface WatchHour {
  /** Epoch ms, start of the hour. */
  readonly hour: number
  readonly rows: readonly HourRow[]
}
