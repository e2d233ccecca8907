import type { Step } from '../../model/series.ts'
import type { ReadingStore } from '../reading-store.ts'

/**
 * The step that holds everything of these probes from `from` (epoch ms) on: hours where raw readings were wanted and
 * those of one of the probes have become hours.
 */
export async function finestStep(
  readings: ReadingStore,
  probes: readonly string[],
  from: number,
  wanted: Step,
): Promise<Step> {
  if (wanted !== 'raw' || readings.upkeep === undefined) return wanted
  const thinned = await readings.upkeep.thinnedTo()
  return probes.some((probe) => (thinned.get(probe) ?? -Infinity) > from) ? 'hour' : 'raw'
}
