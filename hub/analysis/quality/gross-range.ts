import type { SpotHistory } from '../measure/spot-history.ts'
import { QARTOD, flagColumn } from './qartod.ts'

/** What a soil can be. The codes 0 and 14 that failing probes send lie outside as well. */
const PH_RANGE = { low: 2.5, high: 11 } as const
/**
 * What a garden is: below 3.5 soil is ultra acid and above 9.0 very strongly alkaline (reaction classes of the
 * Soil Survey Manual of the US Department of Agriculture, from memory).
 */
const GARDEN_RANGE = { low: 3.5, high: 9 } as const
/** Where a pH electrode can be believed, degrees Celsius: colder it is slow and may freeze (trade judgement). */
const ELECTRODE_TEMPERATURE = { low: 2, high: 40 } as const
/** What soil can be near the surface, degrees Celsius. */
const TEMPERATURE_RANGE = { low: -30, high: 70 } as const

/** Gross range test: fail where no soil can be, suspect where hardly any garden is. */
export function grossRange({ ph }: Pick<SpotHistory, 'ph'>): Uint8Array {
  const flags = flagColumn(ph, QARTOD.pass)
  for (let row = 0; row < flags.length; row++) {
    if (flags[row] === QARTOD.missing) continue
    if (!isSoilPh(ph[row]!)) flags[row] = QARTOD.fail
    else if (ph[row]! < GARDEN_RANGE.low || ph[row]! > GARDEN_RANGE.high)
      flags[row] = QARTOD.suspect
  }
  return flags
}

/** True when a pH can be that of a soil; NaN cannot. */
export function isSoilPh(ph: number): boolean {
  return ph >= PH_RANGE.low && ph <= PH_RANGE.high
}

/** True when a temperature was measured and the electrode cannot be believed at it. */
export function isBeyondElectrode(temperatureC: number): boolean {
  return temperatureC < ELECTRODE_TEMPERATURE.low || temperatureC > ELECTRODE_TEMPERATURE.high
}

export function isSoilTemperature(temperatureC: number): boolean {
  return temperatureC >= TEMPERATURE_RANGE.low && temperatureC <= TEMPERATURE_RANGE.high
}
