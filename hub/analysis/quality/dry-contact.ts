import { QARTOD, flagColumn } from './qartod.ts'
import { DRY_BELOW, MOIST_FROM } from './dry-soil.ts'

/**
 * Fail where too little of the available water is left for the electrode, suspect where it is rather little, not
 * evaluated where nothing is known of it.
 *
 * @param available share of the available water, row by row; NaN = unknown
 */
export function dryContact(ph: Float64Array, available: Float64Array): Uint8Array {
  const flags = flagColumn(ph, QARTOD.pass)
  for (let row = 0; row < flags.length; row++) {
    if (flags[row] === QARTOD.missing) continue
    const share = available[row]!
    if (Number.isNaN(share)) flags[row] = QARTOD.notEvaluated
    else if (share < DRY_BELOW) flags[row] = QARTOD.fail
    else if (share < MOIST_FROM) flags[row] = QARTOD.suspect
  }
  return flags
}
