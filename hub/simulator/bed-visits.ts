import { DAY, HOUR } from '../model/clock.ts'
import { type BedEvent, SAMPLE_MS } from './bed-events.ts'
import type { Random } from './random.ts'

/** One probe taken out, held into buffers of pH 7 and 4, and put back. */
export interface Visit {
  readonly spot: number
  /** Out of the soil from here, epoch ms, for so many samples. */
  readonly at: number
  readonly samples: number
  /** What the gardener wrote down, epoch ms by a kitchen clock; null: nothing. */
  readonly loggedAt: number | null
  /** Lasting change of what it shows, beside the drift that is taken back; 0 of a routine visit, pH. */
  readonly stepPh: number
}

const BETWEEN_DAYS = [25, 60] as const
/** Routine visits keep this far from events, so that each label stands alone. */
const APART_MS = 72 * HOUR
const LOGGED = 0.8
const LOG_ERROR_MS = HOUR

/** Routine visits to all probes, and those of the service events, ascending in time. */
export function planVisits(
  random: Random,
  bed: { readonly startMs: number; readonly days: number; readonly spots: number },
  events: readonly BedEvent[],
): readonly Visit[] {
  const visits: Visit[] = []
  const visit = (spot: number, at: number, stepPh: number): void => {
    visits.push({
      spot,
      at,
      samples: 4 + Math.floor(random.between(0, 8)),
      loggedAt: random.chance(LOGGED) ? at + random.normal(0, LOG_ERROR_MS) : null,
      stepPh,
    })
  }
  let day = random.between(...BETWEEN_DAYS)
  while (day < bed.days - 3) {
    const quarter = Math.floor(random.between(9 * 4, 18 * 4))
    const at = bed.startMs + Math.floor(day) * DAY + quarter * SAMPLE_MS
    if (events.every(({ onset }) => Math.abs(at - onset) > APART_MS)) {
      for (let spot = 0; spot < bed.spots; spot++) visit(spot, at, 0)
    }
    day += random.between(...BETWEEN_DAYS)
  }
  for (const { kind, spot, onset, sizePh } of events) {
    if (kind === 'service' && spot !== null) visit(spot, onset, sizePh)
  }
  return visits.toSorted((a, b) => a.at - b.at)
}
