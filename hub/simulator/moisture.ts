import { totalAvailableWater } from '../agronomy/moisture-limits.ts'
import { textureRow, type TextureRow } from '../agronomy/textures.ts'
import type { Texture } from '../model/bed.ts'
import { DAY, HOUR } from '../model/clock.ts'
import { hourlyTrack, type HourlyTrack } from './hourly-track.ts'
import type { Random } from './random.ts'
import { dayShare, type Weather } from './weather.ts'

export interface Bucket {
  /** Water missing from field capacity in the root zone, mm; negative: water above it, still draining. */
  readonly depletionMm: number
  /** Total available water, mm. */
  readonly tawMm: number
  /** Water the zone holds above field capacity when full, mm. */
  readonly roomMm: number
  /** Fraction of the available water that is taken without stress. */
  readonly p: number
}

export interface BucketStep {
  readonly depletionMm: number
  /** Stress coefficient of the step, 0 to 1. */
  readonly ks: number
  /** Evapotranspiration that happened, mm. */
  readonly etMm: number
  /** Water that left below or ran off, mm. */
  readonly lostMm: number
}

/**
 * One step of the root-zone water balance: FAO Irrigation and Drainage Paper 56 (1998), equations 84
 * (stress coefficient from the depletion at the start) and 85 (balance). In place of equation 88, which
 * lets excess go at once, water above field capacity leaves with a time constant.
 *
 * @param etcMm evapotranspiration of the crop without stress in this step, mm
 * @param waterMm rain and irrigation in this step, mm
 * @param drains share of the water above field capacity that leaves in this step, 0 to 1
 */
export function stepBucket(
  bucket: Bucket,
  etcMm: number,
  waterMm: number,
  drains: number,
): BucketStep {
  const { depletionMm, tawMm, roomMm, p } = bucket
  const ks = Math.max(0, Math.min(1, (tawMm - depletionMm) / ((1 - p) * tawMm)))
  const etMm = ks * etcMm
  let next = depletionMm + etMm - waterMm
  let lostMm = 0
  if (next < -roomMm) {
    lostMm += -roomMm - next
    next = -roomMm
  }
  if (next < 0) {
    const drained = -next * drains
    lostMm += drained
    next += drained
  }
  return { depletionMm: next, ks, etMm, lostMm }
}

/** How a gardener waters one bed. */
export interface WateringHabit {
  /** Waters when more than this share of the available water is gone. */
  readonly at: number
  /** Chance on a morning on which it is due. */
  readonly keenness: number
  /** Share of the missing water given. */
  readonly refill: number
  /** Spells without any watering, epoch ms. */
  readonly neglect: readonly { readonly from: number; readonly to: number }[]
}

export interface Watering {
  readonly at: number
  readonly mm: number
}

export interface BedWater {
  /** Water content of the root zone, m3/m3. */
  theta(at: number): number
  /** Share of the available water that is there, 0 at wilting point to 1 at field capacity (and above). */
  available(at: number): number
  /** Waterings with `from <= at < to`. */
  waterings(from: number, to: number): readonly Watering[]
  readonly soil: TextureRow
}

/** Depth of roots that the bucket stands for, at most, m. */
const ROOTS_M = 0.3
/**
 * Time constant with which water above field capacity leaves, h: ten in a sandy loam, about twenty in a clay
 * loam; the finer the soil, the more it holds at wilting point and the slower it drains (judgement).
 */
const drainHours = (soil: TextureRow): number => 4 + 75 * soil.wiltingPoint
const WATERING_HOUR = 7

/** Water in one bed under rain, the sun and its gardener. */
export function bedWater(options: {
  texture: Texture
  depthM: number
  habit: WateringHabit
  weather: Weather
  solarOffsetH: number
  startMs: number
  random: Random
}): BedWater {
  const { habit, weather, startMs, random } = options
  const soil = textureRow(options.texture)
  const rootDepthM = Math.min(ROOTS_M, options.depthM)
  const mmPerShare = 1000 * rootDepthM
  const tawMm = totalAvailableWater({ ...soil, rootDepthM })
  const roomMm = mmPerShare * (soil.saturation - soil.fieldCapacity)
  const drains = 1 - Math.exp(-1 / drainHours(soil))
  const given: Watering[] = []
  let depletionMm = 0.2 * tawMm

  const depletion: HourlyTrack = hourlyTrack(startMs, (hour) => {
    const at = startMs + hour * HOUR
    const now = depletionMm
    let water = weather.rainMm.hour(hour)
    const clock = Math.floor(dayShare(at, options.solarOffsetH) * 24)
    if (clock === WATERING_HOUR) {
      const willing = random.chance(habit.keenness)
      const away = habit.neglect.some((spell) => at >= spell.from && at < spell.to)
      if (willing && !away && depletionMm > habit.at * tawMm) {
        const mm = habit.refill * depletionMm
        given.push({ at, mm })
        water += mm
      }
    }
    const bucket = { depletionMm, tawMm, roomMm, p: 0.4 }
    depletionMm = stepBucket(bucket, weather.et0Mm(hour), water, drains).depletionMm
    return now
  })

  return {
    soil,
    theta: (at) => soil.fieldCapacity - depletion.valueAt(at) / mmPerShare,
    available: (at) => 1 - depletion.valueAt(at) / tawMm,
    waterings: (from, to) => {
      depletion.valueAt(to + DAY)
      return given.filter((one) => one.at >= from && one.at < to)
    },
  }
}
