import { HOUR } from '../../model/clock.ts'
import type { FeedChannel, SpotFeed } from '../../model/feed.ts'
import type { ElectrodeCalibration, MoistureCalibration } from '../../model/probe.ts'
import type { Sensed } from '../../model/quantity.ts'
import type { Buckets, Step } from '../../model/series.ts'
import { type ElectrodeLine, electrodePh, readableLine } from './electrode.ts'
import { InForce } from './in-force.ts'
import { inOrder } from './in-order.ts'
import { soilMoisture } from './moisture.ts'
import { nernstSlope } from './nernst.ts'
import { isMineral, waterOfPermittivity } from './permittivity.ts'
import { type SoilLine, soilLine } from './soil-line.ts'
import { toInside } from './units.ts'

/** What a moisture column is a fraction of. */
export type MoistureScale = 'probe range' | 'volume' | 'unknown'

/**
 * One probe in one spot, converted: columns of equal length, ascending in time, NaN = missing.
 * With step `hour` or `day` a value is the median of its bucket.
 */
export interface SpotHistory {
  readonly feed: SpotFeed
  readonly step: Step
  readonly time: Float64Array
  readonly ph: Float64Array
  readonly phMin: Float64Array
  readonly phMax: Float64Array
  /** Readings behind the pH of a row. */
  readonly phCount: Float64Array
  /** Spread of the electrical value within the row, and the value itself, as sent: for the flat-line test. */
  readonly rawPh: Float64Array
  readonly rawPhMin: Float64Array
  readonly rawPhMax: Float64Array
  /** Smallest step of the pH that the probe can show, pH; NaN when it did not say. */
  readonly resolutionPh: number
  /** 1 where the electrical value stood at or beyond its limits. */
  readonly clipped: Uint8Array
  /** 1 where no calibration was in force and the ideal electrode stands in. */
  readonly uncalibrated: Uint8Array
  /** When the calibration in force was made, epoch ms; NaN when there is none or the probe did it itself. */
  readonly calibratedAt: Float64Array
  readonly moisture: Float64Array
  /** Lowest moisture of the row: next to nothing where the electrode was out of the soil. */
  readonly moistureLow: Float64Array
  /** Of the whole column, that of its newest rows: rows on another scale are missing, unless `causal`. */
  readonly moistureScale: MoistureScale
  /** 1 where the moisture of the row is a water content by volume. */
  readonly byVolume: Uint8Array
  readonly temperature: Float64Array
  readonly hasPhChannel: boolean
}

/** A temperature this near in time still belongs to an EMF. */
const NEAR_MS = 6 * HOUR
/** Stands in when a probe has never told its temperature; 5 degrees wrong is 0.03 pH at pH 5. */
const ASSUMED_TEMPERATURE_C = 20

/**
 * Converts what a probe sent into pH, moisture and temperature.
 *
 * - pH comes from `ph.emf` with the calibration in force at each row (see `InForce`), at the soil
 *   temperature nearest within six hours, else the last known, else 20 degrees Celsius. A `ph` channel of
 *   the probe itself is used only when it has no `ph.emf` with readings.
 * - Moisture is `vwc` as sent, else water by volume out of `permittivity` where the soil allows it, else `moist.raw` between the probe's own dry and wet points. Without those
 *   it is unknown. From the first calibration with soils of known water on it is a volume: they describe the soil
 *   and hold until others are given, also through new dry and wet points.
 * - Rows of all channels are joined on equal times: readings of one message share one.
 */
export function spotHistory(
  feed: SpotFeed,
  step: Step,
  options: {
    /**
     * True: nothing of a row depends on later ones, so a past gone through again gives what was seen then.
     * @default false
     */
    causal?: boolean
  } = {},
): SpotHistory {
  const emf = channelOf(feed, 'ph.emf')
  const own = emf === null ? channelOf(feed, 'ph') : null
  const soil = channelOf(feed, 'temp.soil')
  const vwc = channelOf(feed, 'vwc')
  const permittivity =
    vwc === null && isMineral(feed.texture) ? channelOf(feed, 'permittivity') : null
  const water = vwc ?? permittivity
  const counts = water === null ? channelOf(feed, 'moist.raw') : null

  const time = union(
    [emf, own, soil, water, counts].flatMap((c) => (c === null ? [] : [c.buckets])),
  )
  const rows = time.length
  const temperature = aligned(time, soil, (buckets) => buckets.median)
  const ph = emf ?? own
  const rawPh = aligned(time, ph, (buckets) => buckets.median)
  const rawPhMin = aligned(time, ph, (buckets) => buckets.min)
  const rawPhMax = aligned(time, ph, (buckets) => buckets.max)
  const phCount = aligned(time, ph, (buckets) => buckets.count)
  const { low, high } = ph?.channel ?? { low: null, high: null }
  const unit = ph?.channel.unit ?? ''
  const [lowest, highest] = [
    low === null ? NaN : toInside(unit, low),
    high === null ? NaN : toInside(unit, high),
  ]
  const clipped = new Uint8Array(rows)
  for (let row = 0; row < rows; row++) {
    if (rawPh[row]! <= lowest || rawPh[row]! >= highest) clipped[row] = 1
  }

  const uncalibrated = new Uint8Array(rows)
  const calibratedAt = new Float64Array(rows).fill(NaN)
  const out = {
    ph: new Float64Array(rows),
    min: new Float64Array(rows),
    max: new Float64Array(rows),
  }
  if (emf === null) {
    out.ph.set(rawPh)
    out.min.set(rawPhMin)
    out.max.set(rawPhMax)
  } else {
    const inForce = new InForce(
      feed.calibrations.filter(
        (calibration): calibration is ElectrodeCalibration =>
          calibration.kind === 'electrode' && calibration.channel === emf.channel.name,
      ),
    )
    const electrodeTemperature = filledTemperature(time, temperature, options.causal ?? false)
    let calibration: ElectrodeCalibration | null = null
    let line: ElectrodeLine = readableLine(null)
    for (let row = 0; row < rows; row++) {
      const current = inForce.at(time[row]!)
      if (current !== calibration) {
        calibration = current
        line = readableLine(current)
      }
      const at = electrodeTemperature[row]!
      out.ph[row] = electrodePh(line, rawPh[row]!, at)
      // The EMF falls as the pH rises.
      out.min[row] = electrodePh(line, rawPhMax[row]!, at)
      out.max[row] = electrodePh(line, rawPhMin[row]!, at)
      uncalibrated[row] = line.calibrated ? 0 : 1
      calibratedAt[row] = line.calibrated && calibration !== null ? calibration.at : NaN
    }
  }

  const moisture = aligned(time, water ?? counts, (buckets) => buckets.median)
  const moistureLow = aligned(time, water ?? counts, (buckets) => buckets.min)
  if (permittivity !== null) {
    for (const column of [moisture, moistureLow]) {
      for (let row = 0; row < rows; row++) column[row] = waterOfPermittivity(column[row]!)
    }
  }
  let moistureScale: MoistureScale = water === null ? 'unknown' : 'volume'
  const byVolume = new Uint8Array(rows).fill(water === null ? 0 : 1)
  if (counts !== null) {
    const highest = aligned(time, counts, (buckets) => buckets.max)
    const inForce = new InForce(
      feed.calibrations.filter(
        (calibration): calibration is MoistureCalibration =>
          calibration.kind === 'moisture' && calibration.channel === counts.channel.name,
      ),
    )
    let calibration: MoistureCalibration | null = null
    let soil: SoilLine | null = null
    for (let row = 0; row < rows; row++) {
      const current = inForce.at(time[row]!)
      if (current !== calibration) {
        calibration = current
        soil = current === null ? null : (soilLine(current) ?? soil)
      }
      moisture[row] = soilMoisture(calibration, soil, moisture[row]!)
      // Counts of most parts fall as the soil gets wetter.
      moistureLow[row] = Math.min(
        soilMoisture(calibration, soil, moistureLow[row]!),
        soilMoisture(calibration, soil, highest[row]!),
      )
      byVolume[row] = soil === null ? 0 : 1
      if (!Number.isNaN(moisture[row])) moistureScale = soil === null ? 'probe range' : 'volume'
    }
    if (options.causal !== true && moistureScale === 'volume') {
      // Shares of a range and volumes make no common column.
      for (let row = 0; row < rows && byVolume[row] === 0; row++) {
        moisture[row] = NaN
        moistureLow[row] = NaN
      }
    }
  }

  return {
    feed,
    step,
    time,
    ph: out.ph,
    phMin: out.min,
    phMax: out.max,
    phCount,
    rawPh,
    rawPhMin,
    rawPhMax,
    resolutionPh: resolutionPh(ph, emf !== null),
    clipped,
    uncalibrated,
    calibratedAt,
    moisture,
    moistureLow,
    moistureScale,
    byVolume,
    temperature,
    hasPhChannel: ph !== null,
  }
}

interface OrderedChannel {
  readonly channel: FeedChannel['channel']
  readonly buckets: Buckets
}

/** The first channel that senses this and has readings; without readings it is as if absent. */
function channelOf(feed: SpotFeed, senses: Sensed): OrderedChannel | null {
  const found = feed.channels.find(
    ({ channel, buckets }) => channel.senses === senses && buckets.time.length > 0,
  )
  return found === undefined ? null : { channel: found.channel, buckets: inOrder(found.buckets) }
}

/** All times of several ascending columns, ascending, each once. */
function union(buckets: readonly Buckets[]): Float64Array {
  const [first, ...others] = buckets
  if (first === undefined) return new Float64Array(0)
  const same = others.every(
    ({ time }) => time.length === first.time.length && time.every((t, i) => t === first.time[i]),
  )
  if (same) return first.time
  const all = new Float64Array(buckets.reduce((sum, { time }) => sum + time.length, 0))
  let length = 0
  for (const { time } of buckets) {
    all.set(time, length)
    length += time.length
  }
  all.sort()
  return all.filter((t, i) => i === 0 || t !== all[i - 1])
}

/** A column of a channel brought to the joined times and to its inside unit, NaN where it has no row. */
function aligned(
  time: Float64Array,
  source: OrderedChannel | null,
  column: (buckets: Buckets) => Float64Array,
): Float64Array {
  const out = new Float64Array(time.length).fill(NaN)
  if (source === null) return out
  const from = source.buckets.time
  const values = column(source.buckets)
  const isCount = values === source.buckets.count
  let i = 0
  for (let row = 0; row < time.length; row++) {
    while (i < from.length && from[i]! < time[row]!) i++
    if (i >= from.length) break
    if (from[i] !== time[row]) continue
    out[row] = isCount ? values[i]! : toInside(source.channel.unit, values[i]!)
  }
  return out
}

/** For each row the temperature the electrode had, by the rule of `spotHistory`. */
function filledTemperature(
  time: Float64Array,
  measured: Float64Array,
  causal: boolean,
): Float64Array {
  const out = new Float64Array(time.length)
  let before = -1
  let after = 0
  for (let row = 0; row < time.length; row++) {
    if (Number.isFinite(measured[row])) before = row
    if (after < row) after = row
    while (after < time.length && !Number.isFinite(measured[after])) after++
    const toBefore = before < 0 ? Infinity : time[row]! - time[before]!
    const toAfter = causal || after >= time.length ? Infinity : time[after]! - time[row]!
    if (toAfter < toBefore && toAfter <= NEAR_MS) out[row] = measured[after]!
    else out[row] = before < 0 ? ASSUMED_TEMPERATURE_C : measured[before]!
  }
  return out
}

function resolutionPh(source: OrderedChannel | null, isEmf: boolean): number {
  const { resolution, unit } = source?.channel ?? { resolution: null, unit: '' }
  if (resolution === null) return NaN
  const inside = Math.abs(toInside(unit, resolution) - toInside(unit, 0))
  return isEmf ? inside / nernstSlope(ASSUMED_TEMPERATURE_C) : inside
}
