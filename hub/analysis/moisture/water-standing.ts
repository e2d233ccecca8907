import { readilyAvailableWater, totalAvailableWater } from '../../agronomy/moisture-limits.ts'
import { textureRow } from '../../agronomy/textures.ts'
import type { Bed } from '../../model/bed.ts'
import { DAY } from '../../model/clock.ts'
import type { MoistureScale } from '../measure/spot-history.ts'
import { median } from '../stats/median.ts'
import { type DryingRate, dryingRate } from './drying-rate.ts'
import { OUT_OF_SOIL } from './out-of-soil.ts'
import { type Roots, rootsOf } from './root-zone.ts'
import { type WaterLimits, waterLimits } from './water-limits.ts'
import type { WaterState } from './water-state.ts'

/** One spot with what its probe has learned and shows now. */
export interface SpotWater {
  readonly spotId: number
  readonly spot: string
  readonly probe: string
  readonly state: WaterState
  /** Latest moisture on the probe's own scale and when it was read, epoch ms; NaN = none. */
  readonly moisture: number
  readonly scale: MoistureScale
  readonly at: number
}

/** A value with its 95 % interval; `Infinity` where an end is open. */
export interface Interval {
  readonly value: number
  readonly low: number
  readonly high: number
}

/** A spot's share in the standing. */
export interface SpotStanding {
  readonly spotId: number
  readonly spot: string
  readonly probe: string
  /** Share of the available water that is left; NaN = unknown. */
  readonly available: number
  readonly limits: WaterLimits | null
}

/** The bed's water at one moment, in figures. What it is called follows from `stepWaterStanding`. */
export interface WaterStanding {
  readonly at: number
  /** Water missing to field capacity as a share of all that is available; null when nothing is known. */
  readonly missing: Interval | null
  readonly roots: Roots
  /** How far the soil is from drained (0) towards too little air for roots (1, see `soakedAbove`); NaN = unknown. */
  readonly excess: number
  /** TAW and RAW of FAO-56, mm. */
  readonly totalMm: number
  readonly readilyMm: number
  /** Dr of FAO-56, mm, and the same as litres on the whole bed. */
  readonly missingMm: Interval | null
  readonly refillL: Interval | null
  /** Days until the most sensitive crop feels it, at the rate of drying; 0 when it does already. */
  readonly daysUntilDry: Interval | null
  readonly rateFrom: DryingRate['from'] | null
  readonly lastWettingAt: number | null
  readonly spots: readonly SpotStanding[]
}

/** Moisture older than this says nothing of now. */
const FRESH_MS = DAY
/**
 * 95 % half-width of a field capacity as a share of it, by how it is known: measured on invented beds of known field
 * capacity, and for the texture what FAO-56 Table 19 spans.
 */
const CAPACITY_DOUBT = { 'wet-ups': 0.06, seen: 0.2, texture: 0.3 } as const
/** Standard deviation of the missing share between places of one bed when it holds a single probe (judgement). */
const PLACES_SD = 0.1
/** 95 % of a normal distribution. */
const Z = 1.96
/** Roots need air: with less than this share of the volume left for it soil is called waterlogged (from memory). */
const AIR_SHARE = 0.1
/** Below this a learned field capacity is exceeded by chance. */
const LEAST_MARGIN = 0.03

/**
 * How much water a bed misses, by FAO-56 (equations 82 and 83, Table 22): the moisture of each spot between its
 * own field capacity and wilting point, the median of the spots, held against what the crops can use.
 */
export function waterStanding(
  bed: Pick<Bed, 'texture' | 'crops' | 'depthM' | 'areaM2'>,
  spots: readonly SpotWater[],
  at: number,
): WaterStanding {
  const roots = rootsOf(bed)
  const known = spots.flatMap((spot) => {
    if (!showsSoil(spot, at)) return []
    const limits = waterLimits(spot.state, spot.scale, bed.texture)
    return [{ spot, limits, ...missingAt(spot.moisture, limits) }]
  })
  const zone = zoneOf(bed, roots, known)
  const totalMm = totalAvailableWater(zone)
  const missing = missingOf(known)
  const rate = rateOf(known, at)
  const inMm = (share: number): number => Math.max(0, share) * totalMm
  const missingMm = missing === null ? null : mapped(missing, inMm)
  const excess = known.map(
    ({ spot: { moisture, scale }, limits }) =>
      (moisture - limits.capacity) / (soakedAbove(scale, limits, bed.texture) - limits.capacity),
  )
  const wettings = spots.flatMap(({ state }) => state.wetting ?? state.wettings.at(-1) ?? [])
  return {
    at,
    missing,
    roots,
    excess: median(excess),
    totalMm,
    readilyMm: readilyAvailableWater(zone, roots.depletion),
    missingMm,
    // 1 mm on 1 m2 is 1 L.
    refillL: missingMm === null ? null : mapped(missingMm, (mm) => mm * bed.areaM2),
    daysUntilDry:
      missing === null || rate === null ? null : daysUntil(roots.depletion, missing, rate),
    rateFrom: rate?.from ?? null,
    lastWettingAt: wettings.length === 0 ? null : Math.max(...wettings.map(({ onset }) => onset)),
    spots: spots.map(({ spotId, spot, probe }) => {
      const of = known.find((k) => k.spot.spotId === spotId && k.spot.probe === probe)
      return {
        spotId,
        spot,
        probe,
        available: of === undefined ? NaN : 1 - of.share,
        limits: of?.limits ?? null,
      }
    }),
  }
}

/** A reading of the last day, from unfrozen soil. */
function showsSoil({ state, moisture, scale, at: readAt }: SpotWater, at: number): boolean {
  const interrupted = state.unbrokenFrom > state.hour
  return at - readAt <= FRESH_MS && moisture >= OUT_OF_SOIL && scale !== 'unknown' && !interrupted
}

/** Moisture above which soil holds water that should drain away, on the probe's own scale. */
export function soakedAbove(
  scale: MoistureScale,
  { capacity }: WaterLimits,
  texture: Bed['texture'],
): number {
  const { saturation, fieldCapacity } = textureRow(texture)
  const full = scale === 'volume' ? saturation : 1
  const air = scale === 'volume' ? AIR_SHARE : AIR_SHARE / saturation
  return Math.max(capacity * (1 + LEAST_MARGIN / fieldCapacity), full - air)
}

interface Known {
  readonly spot: SpotWater
  readonly limits: WaterLimits
  readonly share: number
  readonly halfWidth: number
}

/** The missing share at one spot, and how far the doubt of its field capacity carries. */
function missingAt(moisture: number, limits: WaterLimits): { share: number; halfWidth: number } {
  const { capacity, wilting, basis, spread } = limits
  const span = capacity - wilting
  // Soakings that left very different levels behind tell less.
  const apart = basis === 'wet-ups' ? spread : 0
  const doubt = Math.max(CAPACITY_DOUBT[basis] * capacity, apart)
  return { share: (capacity - moisture) / span, halfWidth: ((moisture / capacity) * doubt) / span }
}

function missingOf(known: readonly Known[]): Interval | null {
  if (known.length === 0) return null
  const value = median(known.map(({ share }) => share))
  const mean = known.reduce((sum, { share }) => sum + share, 0) / known.length
  const variance =
    known.length === 1
      ? PLACES_SD ** 2
      : known.reduce((sum, { share }) => sum + (share - mean) ** 2, 0) / (known.length - 1)
  const ofCapacity = known.reduce((sum, k) => sum + k.halfWidth, 0) / known.length
  const half = Math.hypot(ofCapacity, Z * Math.sqrt(variance / known.length))
  return { value, low: value - half, high: value + half }
}

/** Volumes where the probes know them; a probe that knows only its own range leaves them to the texture. */
function zoneOf(
  bed: Pick<Bed, 'texture'>,
  { depthM }: Roots,
  known: readonly Known[],
): { fieldCapacity: number; wiltingPoint: number; rootDepthM: number } {
  const volumes = known.filter(({ spot }) => spot.scale === 'volume')
  const { fieldCapacity, wiltingPoint } = textureRow(bed.texture)
  if (volumes.length === 0) return { fieldCapacity, wiltingPoint, rootDepthM: depthM }
  return {
    fieldCapacity: median(volumes.map(({ limits }) => limits.capacity)),
    wiltingPoint: median(volumes.map(({ limits }) => limits.wilting)),
    rootDepthM: depthM,
  }
}

/** Missing share gained per day, median of the spots; a rate of now wins over one of before. */
function rateOf(known: readonly Known[], at: number): DryingRate | null {
  const rates = known.flatMap(({ spot, limits }) => {
    const rate = dryingRate(spot.state, at)
    const span = limits.capacity - limits.wilting
    return rate === null ? [] : [{ ...rate, perDay: rate.perDay / span, se: rate.se / span }]
  })
  const present = rates.filter(({ from }) => from === 'now')
  const used = present.length > 0 ? present : rates
  if (used.length === 0) return null
  return {
    perDay: median(used.map(({ perDay }) => perDay)),
    // Spots dry under one sky: their errors do not average out.
    se: median(used.map(({ se }) => se)),
    from: present.length > 0 ? 'now' : 'before',
  }
}

function daysUntil(depletion: number, missing: Interval, rate: DryingRate): Interval {
  const days = (share: number, perDay: number): number => {
    if (share >= depletion) return 0
    return perDay > 0 ? (depletion - share) / perDay : Infinity
  }
  return {
    value: days(missing.value, rate.perDay),
    low: days(missing.high, rate.perDay + Z * rate.se),
    high: days(missing.low, rate.perDay - Z * rate.se),
  }
}

function mapped({ value, low, high }: Interval, of: (value: number) => number): Interval {
  return { value: of(value), low: of(low), high: of(high) }
}
