import type { ElectrodeCalibration } from '../../model/probe.ts'
import { nernstSlope } from './nernst.ts'

/** How one electrode turns pH into EMF. */
export interface ElectrodeLine {
  /** Share of the Nernst slope, 1 = ideal. */
  readonly slopeFraction: number
  /** EMF at pH 7, mV. */
  readonly offsetMv: number
  /** False when nothing is known of this electrode and the ideal line stands in. */
  readonly calibrated: boolean
}

/** pH at which the EMF does not change with temperature; nominal for combination electrodes. */
const ISOPOTENTIAL_PH = 7

const NOMINAL_ELECTRODE: ElectrodeLine = {
  slopeFraction: 1,
  offsetMv: 0,
  calibrated: false,
}

/** Beyond these a pair of points is not the line of a pH electrode at all (judgement). */
const READABLE = { slopeLow: 0.5, slopeHigh: 1.2, offsetMv: 200 } as const

/**
 * Slope fraction and offset from two or three buffers at one temperature, of three the line of least squares. Not
 * finite when all buffers have the same pH. The buffers' pH must be that at their temperature.
 */
export function electrodeLine(
  calibration: Pick<ElectrodeCalibration, 'points' | 'temperatureC'>,
): ElectrodeLine {
  const { points } = calibration
  const n = points.length
  const ph = points.reduce((sum, point) => sum + point.ph, 0) / n
  const emf = points.reduce((sum, point) => sum + point.emfMv, 0) / n
  let square = 0
  let cross = 0
  for (const point of points) {
    square += (point.ph - ph) ** 2
    cross += (point.ph - ph) * (point.emfMv - emf)
  }
  const slope = -cross / square
  return {
    slopeFraction: slope / nernstSlope(calibration.temperatureC),
    offsetMv: emf + slope * (ph - ISOPOTENTIAL_PH),
    calibrated: true,
  }
}

/** How far each buffer reads from its own pH by the line of all, in the order of the points; pH. */
export function residuals(
  calibration: Pick<ElectrodeCalibration, 'points' | 'temperatureC'>,
): readonly number[] {
  const line = electrodeLine(calibration)
  return calibration.points.map(
    ({ ph, emfMv }) => electrodePh(line, emfMv, calibration.temperatureC) - ph,
  )
}

/** The line to read an electrode by; the nominal one, marked uncalibrated, when the points make no line. */
export function readableLine(calibration: ElectrodeCalibration | null): ElectrodeLine {
  if (calibration === null) return NOMINAL_ELECTRODE
  const line = electrodeLine(calibration)
  const readable =
    line.slopeFraction >= READABLE.slopeLow &&
    line.slopeFraction <= READABLE.slopeHigh &&
    Math.abs(line.offsetMv) <= READABLE.offsetMv
  return readable ? line : NOMINAL_ELECTRODE
}

/** pH of an EMF (mV) at a temperature (degrees Celsius). NaN in, NaN out. */
export function electrodePh(line: ElectrodeLine, emfMv: number, temperatureC: number): number {
  return (
    ISOPOTENTIAL_PH + (line.offsetMv - emfMv) / (line.slopeFraction * nernstSlope(temperatureC))
  )
}
