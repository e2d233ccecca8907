import type { SpotHistory } from '../measure/spot-history.ts'
import { QARTOD, flagColumn } from './qartod.ts'

/** Where a pH electrode can be believed, degrees Celsius: colder it is slow and may freeze (trade judgement). */
const ELECTRODE_TEMPERATURE = { low: 2, high: 40 } as const

/** True when a temperature was measured and the electrode cannot be believed at it. */
export function isBeyondElectrode(temperatureC: number): boolean {
  return temperatureC < ELECTRODE_TEMPERATURE.low || temperatureC > ELECTRODE_TEMPERATURE.high
}

/** Fail where it is too cold or too hot for the electrode; not evaluated where no temperature is known. */
export function electrodeTemperature({
  ph,
  temperature,
}: Pick<SpotHistory, 'ph' | 'temperature'>): Uint8Array {
  const flags = flagColumn(ph, QARTOD.pass)
  for (let row = 0; row < flags.length; row++) {
    if (flags[row] === QARTOD.missing) continue
    if (Number.isNaN(temperature[row])) flags[row] = QARTOD.notEvaluated
    else if (isBeyondElectrode(temperature[row]!)) flags[row] = QARTOD.fail
  }
  return flags
}
