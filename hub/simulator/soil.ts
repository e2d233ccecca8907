import { DAY, HOUR } from '../model/clock.ts'
import { hourlyTrack, wander, type HourlyTrack } from './hourly-track.ts'
import type { Random } from './random.ts'
import { yearShare, type Weather } from './weather.ts'

/** How the pH of one bed behaves when nobody interferes. */
export interface SoilCharacter {
  /** pH on the day the scenario starts, before season and rain. */
  readonly basePh: number
  /** Slow change, pH per year; negative where rain and nitrogen use up lime. */
  readonly driftPhPerYear: number
  /** Half the yearly swing, pH; highest in late winter. */
  readonly seasonPh: number
  /** Fall per mm of rain, pH, and the days until 1/e of it is left. */
  readonly rainPhPerMm: number
  readonly rainDays: number
  /** Standard deviation of what no equation explains, pH, correlated over two weeks. */
  readonly wobblePh: number
}

/** Response of a bed to something put on it: nothing, then a rise to a peak, then a slow return. */
export interface Response {
  /** Change at the peak, pH, signed. */
  readonly peakPh: number
  readonly lagDays: number
  /** Days for half of the rise, and for half of the return. */
  readonly riseHalfDays: number
  readonly returnHalfDays: number
}

/** A sudden change of a bed. */
export interface PhEvent {
  readonly bed: string
  /** When it begins, epoch ms. */
  readonly at: number
  /** Change when complete, pH, signed. */
  readonly changePh: number
  /** Time until it is complete, ms. */
  readonly rampMs: number
  /** Days until half of it has gone. */
  readonly returnHalfDays: number
}

/** Deepest fall that rain alone causes, pH. */
const RAIN_FLOOR_PH = -0.3
const RAIN_LAG_H = 3
/** pH is highest when the soil is wet, cold and low in salts: about the first of March. */
const SEASON_PEAK = 60 / 365

/**
 * Share of the peak reached `days` after the material went on: difference of two exponentials, scaled so
 * that its maximum is 1.
 */
export function responseShare(response: Response, days: number): number {
  const u = days - response.lagDays
  if (u <= 0) return 0
  const rise = Math.LN2 / response.riseHalfDays
  const back = Math.LN2 / response.returnHalfDays
  const shape = (t: number): number => Math.exp(-back * t) - Math.exp(-rise * t)
  const peak = shape(Math.log(rise / back) / (rise - back))
  return shape(u) / peak
}

/** Change of a bed by one event at a time, pH: a straight ramp, then an exponential return. */
export function eventChange(event: PhEvent, at: number): number {
  const since = at - event.at
  if (since <= 0) return 0
  if (since < event.rampMs) return (event.changePh * since) / event.rampMs
  const days = (since - event.rampMs) / DAY
  return event.changePh * 2 ** (-days / event.returnHalfDays)
}

/** The undisturbed pH of a bed, hour by hour: base, drift, season, dips after rain, wobble. */
export function undisturbedPh(
  character: SoilCharacter,
  weather: Weather,
  startMs: number,
  random: Random,
): HourlyTrack {
  const wobble = wander(startMs, random.split('wobble'), character.wobblePh, 15 * 24)
  const keep = Math.exp(-1 / (24 * character.rainDays))
  let dip = 0
  return hourlyTrack(startMs, (hour) => {
    const at = startMs + hour * HOUR
    const rain = hour < RAIN_LAG_H ? 0 : weather.rainMm.hour(hour - RAIN_LAG_H)
    dip = Math.max(RAIN_FLOOR_PH, dip * keep - character.rainPhPerMm * rain)
    return (
      character.basePh +
      (character.driftPhPerYear * (hour / 24)) / 365 +
      character.seasonPh * Math.cos(2 * Math.PI * (yearShare(at) - SEASON_PEAK)) +
      dip +
      wobble.hour(hour)
    )
  })
}
