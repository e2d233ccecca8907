/**
 * Flags of the Manual for Real-Time Oceanographic Data Quality Control Flags, version 1.2, 2020, of the US IOOS
 * program (QARTOD), which are the primary level flags of IOC Manuals and Guides 54, volume 3 (list L34 of the NERC
 * vocabulary server). The tests of the same series (Manual for Real-Time Quality Control of In-situ Temperature
 * and Salinity Data, version 2.0, 2016) are the model for those here; limits are for soil and are ours.
 */
export const QARTOD = { pass: 1, notEvaluated: 2, suspect: 3, fail: 4, missing: 9 } as const
export type QartodFlag = (typeof QARTOD)[keyof typeof QARTOD]

/** What weighs more when several tests look at one value: any test passed is more than none made. */
const WEIGHT: Readonly<Record<number, number>> = {
  [QARTOD.notEvaluated]: 0,
  [QARTOD.pass]: 1,
  [QARTOD.suspect]: 2,
  [QARTOD.fail]: 3,
  [QARTOD.missing]: 4,
}

/** The flag of a value from those of two tests. */
export function graver(a: number, b: number): number {
  return WEIGHT[b]! > WEIGHT[a]! ? b : a
}

/** One flag a value: missing where there is none, else `otherwise`. A test writes its verdicts over it. */
export function flagColumn(values: Float64Array, otherwise: QartodFlag): Uint8Array {
  const flags = new Uint8Array(values.length)
  for (let row = 0; row < flags.length; row++) {
    flags[row] = Number.isNaN(values[row]) ? QARTOD.missing : otherwise
  }
  return flags
}
