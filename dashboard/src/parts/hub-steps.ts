import type { Health } from '../../../hub/api/schemas/health.ts'
import { say } from '../say.ts'

type Log = NonNullable<Health['intakeLog']>['logs'][number]

/** What to do about an ingest process, in sentences; empty when there is nothing to do. */
export function ingestSteps(log: Pick<Log, 'clockOffMs' | 'silentSince'>): readonly string[] {
  const steps: string[] = []
  if (log.silentSince !== null)
    steps.push(
      say`See whether it runs and reaches InfluxDB, and leave its folder where it is. Its share of the readings waits there or at the broker; probes send it again meanwhile.`,
    )
  if (log.clockOffMs !== null)
    steps.push(
      say`Have the clock of its machine set by NTP: until then readings it takes may get a wrong time.`,
    )
  return steps
}

/** What to do about readings that InfluxDB does not take; null when it takes all. */
export function refusedStep(influx: Pick<NonNullable<Health['influx']>, 'refused'>): string | null {
  if (influx.refused === 0) return null
  return say`Nothing is lost: they are kept in the folder of the hub and shown as all others. Mend in InfluxDB what is said here, then start the hub again: it sends them once more.`
}
