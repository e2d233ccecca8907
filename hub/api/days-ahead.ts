import { CALIBRATE_EVERY } from '../agronomy/electrode-limits.ts'
import type { Bed } from '../model/bed.ts'
import { DAY } from '../model/clock.ts'
import { holdsAt } from '../model/probe.ts'
import { plannedDays } from '../planning/dates.ts'
import { said, say } from '../words/say.ts'
import type { ApiDeps } from './deps.ts'
import { bedFacts } from './planning-facts.ts'
import type { DayAhead } from './schemas/journal.ts'
import { zonedDay } from './tables.ts'

/** The same, and when what it is about was made, epoch ms: with its key that tells the days of two hubs apart. */
export type DatedDay = DayAhead & { readonly since: number }

/**
 * What has a day: portions of plans and their re-tests, ends of trials, electrodes whose calibration is due; also what
 * was due and was not done. Ascending by day of the garden's zone.
 */
export async function daysAhead(deps: ApiDeps): Promise<readonly DatedDay[]> {
  const { garden, clock } = deps
  const at = clock()
  const [{ zone }, beds, trials] = await Promise.all([
    garden.garden(),
    garden.beds(),
    garden.trials(),
  ])
  const facts = await Promise.all(beds.map((bed) => bedFacts(deps, bed)))
  const createdAt = new Map(beds.map((bed) => [bed.id, bed.createdAt]))
  const planned = plannedDays(facts).map((day) => ({ ...day, since: createdAt.get(day.bedId)! }))
  const ends = trials.flatMap((trial): DatedDay[] => {
    const endsAt = trial.startsAt + trial.days * DAY
    if (trial.givenUpAt !== null || endsAt < at) return []
    return [
      {
        key: `trial-${trial.id}-end`,
        day: zonedDay(endsAt, zone),
        bedId: null,
        bed: null,
        kind: 'trial ends',
        summary: say`Trial ends: ${trial.claim}`,
        text: say`What ${said(trial.material)} did is judged from today on; see the page of trials.`,
        since: trial.createdAt,
      },
    ]
  })
  const due = await calibrationsDue(deps, beds, at, zone)
  return [...planned, ...ends, ...due].toSorted((a, b) =>
    a.day < b.day ? -1 : a.day > b.day ? 1 : a.key < b.key ? -1 : 1,
  )
}

/** Electrodes that sit in a bed, a month after they were last in buffers (common practice, no source). */
async function calibrationsDue(
  { garden }: ApiDeps,
  beds: readonly Bed[],
  at: number,
  zone: string,
): Promise<DatedDay[]> {
  const [probes, spots, placements, calibrations] = await Promise.all([
    garden.probes(),
    garden.spots(),
    garden.placements(),
    garden.calibrations(),
  ])
  return probes.flatMap((probe): DatedDay[] => {
    const place = placements.find((p) => p.probe === probe.id && holdsAt(p, at))
    const spot = spots.find(({ id }) => id === place?.spotId)
    const bed = beds.find(({ id }) => id === spot?.bedId)
    const last = calibrations.findLast(
      (c) => c.probe === probe.id && c.kind === 'electrode' && c.at <= at,
    )
    if (probe.adoptedAt === null || spot === undefined || bed === undefined || last === undefined)
      return []
    return [
      {
        key: `calibrate-${probe.id}-${last.id}`,
        day: zonedDay(last.at + CALIBRATE_EVERY.days * DAY, zone),
        bedId: bed.id,
        bed: bed.name,
        kind: 'calibrate',
        summary: say`Calibrate ${probe.name} in ${bed.name}`,
        text: say`The electrode of ${probe.name} (${spot.name}) was last in buffers a month before. Two fresh buffer solutions; the page of the probe leads through it.`,
        since: probe.firstSeenAt,
      },
    ]
  })
}
