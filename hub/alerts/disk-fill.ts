import { DAY } from '../model/clock.ts'
import { median } from '../analysis/stats/median.ts'

/** Free space of a disk at one time. */
export interface DiskSample {
  /** Epoch ms. */
  readonly at: number
  readonly freeBytes: number
}

/** Less than this says nothing of the pace. */
const LEAST_SPAN_MS = DAY
/** Beyond this nobody acts on it. */
const FURTHEST_MS = 3 * 365 * DAY

/**
 * When a disk is full if it goes on like this, epoch ms: the line through the medians of the first and of the last
 * third of the samples, so that a file that came and went does not count. Null with less than a day of
 * samples, when it does not fill, or not within three years.
 *
 * @param samples ascending in time
 */
export function fullAt(samples: readonly DiskSample[]): number | null {
  const first = samples[0]
  const last = samples.at(-1)
  if (first === undefined || last === undefined || last.at - first.at < LEAST_SPAN_MS) return null
  const third = Math.max(1, Math.floor(samples.length / 3))
  const early = middleOf(samples.slice(0, third))
  const late = middleOf(samples.slice(-third))
  const perMs = (early.freeBytes - late.freeBytes) / (late.at - early.at)
  if (!(perMs > 0)) return null
  const at = late.at + late.freeBytes / perMs
  return at - last.at > FURTHEST_MS ? null : Math.max(at, last.at)
}

const middleOf = (samples: readonly DiskSample[]): DiskSample => ({
  at: median(samples.map(({ at }) => at)),
  freeBytes: median(samples.map(({ freeBytes }) => freeBytes)),
})
