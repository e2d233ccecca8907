import type { Calibration } from '../../model/probe.ts'

/** When the electrode of each probe was calibrated, epoch ms, in the order given (the store's is ascending). */
export function calibratedAt(
  calibrations: readonly Calibration[],
): ReadonlyMap<string, readonly number[]> {
  const out = new Map<string, number[]>()
  for (const { kind, probe, at } of calibrations) {
    if (kind !== 'electrode') continue
    const times = out.get(probe)
    if (times === undefined) out.set(probe, [at])
    else times.push(at)
  }
  return out
}
