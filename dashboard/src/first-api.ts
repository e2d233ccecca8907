import type { Alarm } from '../../hub/api/schemas/alarm.ts'
import type { BedSeries, BedView } from '../../hub/api/schemas/bed.ts'
import type { WhoView } from '../../hub/api/schemas/account.ts'
import type { Findings } from '../../hub/api/schemas/findings.ts'
import type { Garden } from '../../hub/api/schemas/garden.ts'
import type { Health } from '../../hub/api/schemas/health.ts'
import type { JobView } from '../../hub/api/schemas/job.ts'
import type { Entry } from '../../hub/api/schemas/journal.ts'
import type { ProbeView } from '../../hub/api/schemas/probe.ts'
import type { Quantity } from '../../hub/model/quantity.ts'
import { ask, query } from './ask.ts'

export interface SeriesAsked {
  readonly quantity: Quantity
  readonly from: number
  readonly to: number
  readonly points: number
  readonly spots: boolean
}

/** What the garden page and the frame around every page ask for; `api` has it too. */
export const firstApi = {
  jobs: (signal?: AbortSignal) => ask<JobView[]>('/jobs', { signal }),
  garden: (signal?: AbortSignal) => ask<Garden>('/garden', { signal }),
  beds: (signal?: AbortSignal) => ask<BedView[]>('/beds', { signal }),
  series: async (bed: number, asked: SeriesAsked, signal?: AbortSignal) => {
    const series = await ask<BedSeries>(`/beds/${bed}/series${query({ ...asked })}`, { signal })
    // From here on it is the page's own time, which the bench holds against a frame.
    performance.clearMarks('loamline series')
    performance.mark('loamline series')
    return series
  },
  findings: (bed: number, signal?: AbortSignal) =>
    ask<Findings>(`/beds/${bed}/findings`, { signal }),
  journal: (bed: number, range: { from?: number; to?: number }, signal?: AbortSignal) =>
    ask<Entry[]>(`/beds/${bed}/journal${query(range)}`, { signal }),
  probes: (signal?: AbortSignal) => ask<ProbeView[]>('/probes', { signal }),
  health: (signal?: AbortSignal) => ask<Health>('/health', { signal }),
  who: (signal?: AbortSignal) => ask<WhoView>('/who', { signal }),
  alarms: (
    asked: {
      open?: boolean
      over?: boolean
      bed?: number
      kind?: Alarm['kind']
      from?: number
      limit?: number
    },
    signal?: AbortSignal,
  ) => ask<Alarm[]>(`/alarms${query(asked)}`, { signal }),
  acknowledge: (id: number) => ask<unknown>(`/alarms/${id}/acknowledge`, { method: 'POST' }),
}
