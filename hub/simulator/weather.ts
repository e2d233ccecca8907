import { DAY, HOUR } from '../model/clock.ts'
import { hourlyTrack, wander, type HourlyTrack } from './hourly-track.ts'
import type { Random } from './random.ts'

/** Climate of a garden. Angles of the year count from 1 January, 00:00 UTC. */
export interface Climate {
  /** Mean soil temperature over the year, degrees Celsius. */
  readonly meanC: number
  /** Half the yearly swing of the surface, degrees Celsius. */
  readonly yearC: number
  /** Half the daily swing of the surface, degrees Celsius. */
  readonly dayC: number
  /** Warm and cold spells, standard deviation, degrees Celsius. @default 1.2 */
  readonly spellC?: number
  /** Day of the year on which the surface passes its mean upwards. */
  readonly warmingDay: number
  /** Thermal diffusivity of the soil, m2/s; about 5e-7 in moist loam (common practice, no source). */
  readonly diffusivity: number
  /** Chance that a dry day is followed by a wet one: midwinter and midsummer. */
  readonly wetAfterDry: readonly [winter: number, summer: number]
  /** Chance that a wet day is followed by a wet one. */
  readonly wetAfterWet: readonly [winter: number, summer: number]
  /** Mean rain of a wet day, mm. */
  readonly wetDayMm: number
  /** Reference evapotranspiration: yearly mean and half its swing, mm per day. */
  readonly et0Mm: readonly [mean: number, swing: number]
  /** Hours that the sun is ahead of UTC. */
  readonly solarOffsetH: number
}

export interface Weather {
  /** Soil temperature at a depth, degrees Celsius. */
  soilC(depthM: number, at: number): number
  /** Rain in the hour with this index, mm. */
  readonly rainMm: HourlyTrack
  /** Reference evapotranspiration in the hour with this index, mm. */
  et0Mm(hour: number): number
}

const YEAR_MS = 365.2425 * DAY
/** 1 January 2024, 00:00 UTC. */
const NEW_YEAR_MS = 1_704_067_200_000

/** Share of the year gone by, 0 to 1. Within a day of the calendar, which is all a season needs. */
export function yearShare(at: number): number {
  const years = (at - NEW_YEAR_MS) / YEAR_MS
  return years - Math.floor(years)
}

/** Share of the solar day gone by, 0 to 1. */
export function dayShare(at: number, solarOffsetH: number): number {
  const days = (at + solarOffsetH * HOUR) / DAY
  return days - Math.floor(days)
}

/** 1 in midwinter, 0 in midsummer of a climate. */
function winterness(climate: Climate, at: number): number {
  return (1 - Math.sin(2 * Math.PI * (yearShare(at) - climate.warmingDay / 365))) / 2
}

/**
 * Depth over which a temperature wave falls to 1/e, m: sqrt(2 k / omega), from the heat equation with a
 * periodic surface (Carslaw and Jaeger, Conduction of Heat in Solids; from memory).
 *
 * @param diffusivity m2/s
 * @param periodMs period of the wave
 */
export function dampingDepth(diffusivity: number, periodMs: number): number {
  return Math.sqrt((diffusivity * (periodMs / 1000)) / Math.PI)
}

/**
 * A wave of the surface as it arrives at a depth: smaller by exp(-z/d) and later by z/d radians.
 *
 * @param phase angle of the surface wave, radians
 */
export function dampedWave(
  amplitude: number,
  phase: number,
  depthM: number,
  dampingM: number,
): number {
  const depth = depthM / dampingM
  return amplitude * Math.exp(-depth) * Math.sin(phase - depth)
}

/** Soil temperature, rain and reference evapotranspiration of one garden. */
export function weather(climate: Climate, startMs: number, random: Random): Weather {
  const yearDepth = dampingDepth(climate.diffusivity, YEAR_MS)
  const dayDepth = dampingDepth(climate.diffusivity, DAY)
  const spells = wander(startMs, random.split('temperature'), climate.spellC ?? 1.2, 72)

  const rain = random.split('rain')
  let wet = rain.chance(0.3)
  let day: number[] = []
  const startDay = Math.floor((startMs + climate.solarOffsetH * HOUR) / DAY)
  let drawn = startDay - 1
  const between = (pair: readonly [number, number], winter: number): number =>
    pair[1] + (pair[0] - pair[1]) * winter
  const drawDay = (): void => {
    drawn++
    const winter = winterness(climate, drawn * DAY)
    wet = rain.chance(between(wet ? climate.wetAfterWet : climate.wetAfterDry, winter))
    day = Array.from<number>({ length: 24 }).fill(0)
    const amount = rain.exponential(climate.wetDayMm)
    const first = Math.floor(rain.between(0, 21))
    const hours = 1 + Math.floor(rain.between(0, 4))
    if (!wet) return
    for (let h = first; h < first + hours && h < 24; h++) day[h] = amount / hours
  }

  return {
    soilC: (depthM, at) =>
      climate.meanC +
      dampedWave(
        climate.yearC,
        2 * Math.PI * (yearShare(at) - climate.warmingDay / 365),
        depthM,
        yearDepth,
      ) +
      dampedWave(
        climate.dayC,
        2 * Math.PI * (dayShare(at, climate.solarOffsetH) - 0.375),
        depthM,
        dayDepth,
      ) +
      spells.valueAt(at),
    rainMm: hourlyTrack(startMs, (hour) => {
      const solar = startMs + hour * HOUR + climate.solarOffsetH * HOUR
      const dayNumber = Math.floor(solar / DAY)
      while (drawn < dayNumber) drawDay()
      return day[Math.floor((solar - dayNumber * DAY) / HOUR)] ?? 0
    }),
    et0Mm: (hour) => {
      const at = startMs + hour * HOUR
      const [mean, swing] = climate.et0Mm
      // The sun is a month ahead of the soil: the peak of ET0 comes near the solstice.
      const sun = Math.sin(2 * Math.PI * (yearShare(at) - (climate.warmingDay - 30) / 365))
      const daily = Math.max(0.3, mean + swing * sun)
      // Half a sine from 06 to 18 solar time holds the whole day's amount.
      const from = Math.min(0.75, Math.max(0.25, dayShare(at, climate.solarOffsetH)))
      const to = Math.min(0.75, Math.max(0.25, dayShare(at, climate.solarOffsetH) + 1 / 24))
      return (
        (daily / 2) * (Math.cos(2 * Math.PI * (from - 0.25)) - Math.cos(2 * Math.PI * (to - 0.25)))
      )
    },
  }
}
