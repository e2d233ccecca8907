import { bufferPh } from '../agronomy/buffers.ts'
import { HOUR } from '../model/clock.ts'
import type { NewCalibration } from '../model/probe.ts'
import {
  dryContactBias,
  electrode,
  emfOf,
  nernstSlope,
  type Electrode,
  type ElectrodeState,
} from './electrode.ts'
import { active, faultPh, spoil, type Fault, type Measured } from './faults.ts'
import { wander } from './hourly-track.ts'
import { indexedNoise, seededRandom, type IndexedNoise } from './random.ts'
import type { BedWater } from './moisture.ts'
import type { ScenarioProbe } from './scenario.ts'
import type { Weather } from './weather.ts'

/** Flag bits of a reading, as on the wire. */
const NOT_SETTLED = 1
const CLIPPED = 2
const SUPPLY_LOW = 4

export interface Measurement {
  readonly values: Measured
  readonly flags: number
}

/** The true soil at one spot. */
export interface SpotState {
  readonly water: BedWater
  ph(at: number): number
}

/** What a probe finds around it. */
export interface Surroundings {
  readonly seed: number
  /** Epoch ms from which the surroundings are known. */
  readonly startMs: number
  readonly weather: Weather
  spot(key: string): SpotState
}

export interface SimulatedProbe {
  readonly probe: ScenarioProbe
  /** What it measures at a moment, epoch ms: a function of the time alone. */
  readonly measure: (at: number) => Measurement
  /** Calibrations made up to `until`, as the gardener entered them, ascending. */
  readonly calibrations: (until: number) => readonly NewCalibration[]
}

/** How long a service takes: the electrode stands in the buffers, first pH 7, then pH 4. */
export const SERVICE_MS = HOUR
/** Buffers stand in the shed: indoors, so nearly the same at every season. */
const BUFFER_C = 20
/** Error of one reading in a buffer, mV. */
const BUFFER_SD_MV = 0.4

export const EMF_STEP_MV = 0.0625
export const EMF_LIMIT_MV = 2048
export const COUNT_LIMIT = 4095
export const TEMPERATURE_STEP_C = 0.0625

const WHITE_PH = 0.012
const WANDER_PH = 0.035
const WANDER_H = 6
const WHITE_COUNTS = 4
const DRY_BIAS_PH = 1.2

const roundTo = (value: number, step: number): number => Math.round(value / step) * step

function emfWithRails(mv: number): number {
  const rounded = roundTo(mv, EMF_STEP_MV)
  return Math.max(-EMF_LIMIT_MV, Math.min(EMF_LIMIT_MV - EMF_STEP_MV, rounded))
}

/** Battery with a small panel: full by the afternoon, a little lower each overcast week. */
function supplyVolt(noise: number, at: number): number {
  const day = Math.sin((2 * Math.PI * (at % (24 * HOUR))) / (24 * HOUR) - 1.9)
  return 3.93 + 0.07 * day + 0.008 * noise
}

export function simulatedProbe(around: Surroundings, probe: ScenarioProbe): SimulatedProbe {
  const random = seededRandom(around.seed).split(`probe ${probe.id}`)
  const glass: Electrode = electrode(
    probe.electrode,
    [probe.from, ...probe.services.map((at) => at + SERVICE_MS)],
    random.split('electrode'),
  )
  const slowNoise = wander(around.startMs, random.split('noise'), WANDER_PH, WANDER_H)
  const noiseOf = (what: string): IndexedNoise => indexedNoise(around.seed, `${probe.id} ${what}`)
  const emfNoise = noiseOf('emf')
  const countNoise = noiseOf('count')
  const thermometerNoise = noiseOf('thermometer')
  const supplyNoise = noiseOf('supply')
  const luck = noiseOf('luck')
  const thermometerC = random.split('thermometer').normal(0, 0.15)
  const places = probe.placements.map((one) => ({ from: one.from, spot: around.spot(one.spot) }))
  const spotAt = (at: number): SpotState | null =>
    places.findLast((one) => one.from <= at)?.spot ?? null

  const inBuffer = (at: number): number | null => {
    const service = probe.services.findLast((from) => from <= at)
    if (service === undefined || at >= service + SERVICE_MS) return null
    return at < service + SERVICE_MS / 2
      ? bufferPh('technical', '7.00', BUFFER_C)
      : bufferPh('technical', '4.00', BUFFER_C)
  }

  const countsFor = (wetness: number, celsius: number, noise: number): number => {
    const { dryCounts, wetCounts, countsPerC } = probe.moisture
    const counts =
      dryCounts -
      (dryCounts - wetCounts) * wetness +
      countsPerC * (celsius - 20) +
      WHITE_COUNTS * noise
    return Math.max(0, Math.min(COUNT_LIMIT, Math.round(counts)))
  }

  const measureUnstuck = (at: number): Measurement => {
    const second = Math.floor(at / 1000)
    const spot = spotAt(at)
    const buffer = inBuffer(at)
    const inSoil = spot !== null && buffer === null
    const celsius =
      (inSoil ? around.weather.soilC(probe.depthM, at) : BUFFER_C) +
      thermometerC +
      0.02 * thermometerNoise.normal(second)
    const water = spot?.water
    const available = inSoil ? water!.available(at) : 1
    const wetness = inSoil ? water!.theta(at) / water!.soil.saturation : 0
    const noise = emfNoise.normal(second) * WHITE_PH * (available < 0.4 ? 5 : 1)

    let ph = buffer ?? 7
    if (inSoil) {
      ph =
        spot.ph(at) +
        probe.electrode.temperaturePhPerC * (celsius - 20) +
        dryContactBias(available, DRY_BIAS_PH) +
        glass.settlingAt(at) +
        slowNoise.valueAt(at)
    }
    ph += faultPh(probe.faults, at) + noise
    const values: Measured = {
      phmv: emfWithRails(emfOf(glass.stateAt(at), ph, celsius)),
      m1: countsFor(wetness, celsius, countNoise.normal(second)),
      st: roundTo(celsius, TEMPERATURE_STEP_C),
      bat: Math.round(supplyVolt(supplyNoise.normal(second), at) * 100) / 100,
    }
    spoil(values, luck, second)

    const settling = probe.services.some((from) => at >= from && at < from + SERVICE_MS + 6 * HOUR)
    const clipped = values.phmv !== null && Math.abs(values.phmv) >= EMF_LIMIT_MV - EMF_STEP_MV
    const low = values.bat !== null && values.bat < 3.4
    const flags = (settling ? NOT_SETTLED : 0) | (clipped ? CLIPPED : 0) | (low ? SUPPLY_LOW : 0)
    return { values, flags }
  }

  const flat = probe.faults.filter((fault: Fault) => fault.kind === 'flat line')
  const measure = (at: number): Measurement => {
    const one = measureUnstuck(at)
    const stuck = flat.find((fault) => active(fault, at))
    if (stuck !== undefined && one.values.phmv !== null) {
      one.values.phmv = measureUnstuck(stuck.from).values.phmv
    }
    return one
  }

  return {
    probe,
    measure,
    calibrations: (until) => {
      const out: NewCalibration[] = []
      const own = random.split('calibration')
      for (const [index, at] of [probe.from, ...probe.services].entries()) {
        if (at > until) break
        // Points are read at the end of the service, on the electrode as it then is.
        const done = index === 0 ? at : at + SERVICE_MS
        const state = glass.stateAt(done)
        out.push(
          electrodePoints(
            probe,
            state,
            done,
            own.normal(0, BUFFER_SD_MV),
            own.normal(0, BUFFER_SD_MV),
          ),
        )
        if (index % 3 === 0) {
          out.push({
            kind: 'moisture',
            probe: probe.id,
            channel: 'm1',
            at: done,
            dryRaw: Math.round(probe.moisture.dryCounts + own.normal(0, 8)),
            wetRaw: Math.round(probe.moisture.wetCounts + own.normal(0, 8)),
            note: 'dry: wiped, in air; wet: in soil stirred to a slurry',
          })
        }
      }
      return out
    },
  }
}

function electrodePoints(
  probe: ScenarioProbe,
  state: ElectrodeState,
  at: number,
  error7: number,
  error4: number,
): NewCalibration {
  const ph7 = bufferPh('technical', '7.00', BUFFER_C)
  const ph4 = bufferPh('technical', '4.00', BUFFER_C)
  const reading = (ph: number, error: number): number =>
    Math.round((emfOf(state, ph, BUFFER_C) + error) * 10) / 10
  const points = [
    { ph: ph7, emfMv: reading(ph7, error7) },
    { ph: ph4, emfMv: reading(ph4, error4) },
  ] as const
  const slope = (points[1].emfMv - points[0].emfMv) / (ph7 - ph4) / nernstSlope(BUFFER_C)
  return {
    kind: 'electrode',
    probe: probe.id,
    channel: 'phmv',
    at,
    points,
    temperatureC: BUFFER_C,
    note: `buffers 7 and 4, slope ${Math.round(slope * 100)} %`,
  }
}
