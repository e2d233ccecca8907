import type { SpotHistory } from '../measure/spot-history.ts'
import { isBeyondElectrode } from './gross-range.ts'
import { QARTOD, flagColumn } from './qartod.ts'

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
