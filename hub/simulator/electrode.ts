import { DAY, HOUR } from '../model/clock.ts'
import type { Random } from './random.ts'

const MV_PER_PH_AND_KELVIN = (1000 * Math.LN10 * 8.314462618) / 96485.33212

/**
 * Nernst slope, mV per pH: R T ln 10 / F, the gas and Faraday constants being those of the 2019 SI.
 *
 * @param celsius temperature of the solution
 */
export function nernstSlope(celsius: number): number {
  return MV_PER_PH_AND_KELVIN * (celsius + 273.15)
}

/** Zero point and share of the ideal slope of a real electrode. */
export interface ElectrodeState {
  /** EMF at pH 7, mV. */
  readonly zeroMv: number
  /** Share of the Nernst slope, about 0.92 to 1. */
  readonly slopeShare: number
}

/** EMF of an electrode in a solution of this pH, mV; the isopotential point is pH 7. */
export function emfOf(electrode: ElectrodeState, ph: number, celsius: number): number {
  return electrode.zeroMv - electrode.slopeShare * nernstSlope(celsius) * (ph - 7)
}

export interface ElectrodeCharacter {
  readonly zeroMv: number
  readonly slopeShare: number
  /** Loss of slope, share per year. */
  readonly slopeLossPerYear: number
  /** Mean and spread of the drift between services, pH per 30 days. */
  readonly driftPh: number
  readonly driftSpreadPh: number
  /** What temperature compensation leaves over, pH per degree from 20 degrees Celsius. */
  readonly temperaturePhPerC: number
}

export interface Electrode {
  stateAt(at: number): ElectrodeState
  /** Error that dies away after the electrode was handled, pH. */
  settlingAt(at: number): number
}

/** mV that look like one pH unit: the ideal slope at 20 degrees Celsius. */
const MV_PER_PH = nernstSlope(20)
const SETTLING_SD_PH = 0.12
const SETTLING_MS = 12 * HOUR
/** Zero point found after a cleaning, against the one before the drift. */
const CLEANED_SD_PH = 0.03

/**
 * One electrode over its life: slope fades, the zero point drifts and each service brings it nearly back.
 *
 * @param handled times at which it was cleaned and put back, epoch ms, ascending; the first is its start
 */
export function electrode(
  character: ElectrodeCharacter,
  handled: readonly number[],
  random: Random,
): Electrode {
  const periods = handled.map((from, index) => {
    const own = random.split(`service ${index}`)
    return {
      from,
      cleanedMv: own.normal(0, CLEANED_SD_PH) * MV_PER_PH,
      driftMvPerMs:
        (own.normal(character.driftPh, character.driftSpreadPh) * MV_PER_PH) / (30 * DAY),
      settlingPh: own.normal(0, SETTLING_SD_PH),
    }
  })
  const first = periods[0]
  if (first === undefined) throw new RangeError('an electrode needs the time it was put in')
  const periodOf = (at: number): typeof first => periods.findLast((p) => p.from <= at) ?? first
  return {
    stateAt: (at) => {
      const period = periodOf(at)
      const years = (at - first.from) / (365 * DAY)
      return {
        // A pH that reads too high is an EMF too low.
        zeroMv:
          character.zeroMv + period.cleanedMv - period.driftMvPerMs * Math.max(0, at - period.from),
        slopeShare: character.slopeShare - character.slopeLossPerYear * Math.max(0, years),
      }
    },
    settlingAt: (at) => {
      const period = periodOf(at)
      return period.settlingPh * Math.exp(-Math.max(0, at - period.from) / SETTLING_MS)
    },
  }
}

/**
 * What poor contact does to a pH read in drying soil, pH: nothing above 40 % of the available water, then
 * ever lower, down to `worst` at wilting point.
 *
 * @param available share of the available water, 0 at wilting point to 1 at field capacity
 * @param worst fall in bone-dry soil, pH; up to 1.5 was seen in the field (Vogel et al. 2024)
 */
export function dryContactBias(available: number, worst: number): number {
  if (available >= 0.4) return 0
  return -worst * ((0.4 - Math.max(0, available)) / 0.4) ** 0.8
}
