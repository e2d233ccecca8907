import { z } from 'zod'
import { JOB_KINDS } from '../../jobs/job.ts'
import { epochMs, id } from './common.ts'

const told = z.object({ at: epochMs, bed: z.string(), sentence: z.string() })

/** What a replay would have told. */
export const replayed = z.object({
  hours: z.number().int(),
  changes: z.array(told).describe('changes of level, by when they were noticed; the first 200'),
  alarms: z.array(told).describe('alarms that would have been raised; the first 200'),
  changesCount: z.number().int(),
  alarmsCount: z.number().int(),
})
export type Replayed = z.infer<typeof replayed>

/** Long work of the hub. */
export const job = z
  .object({
    id,
    kind: z.enum(JOB_KINDS),
    by: z.string().nullable(),
    startedAt: epochMs,
    share: z.number().min(0).max(1).nullable().describe('how much is done; null: not known yet'),
    leftMs: z.number().min(0).nullable().describe('how long still; null: not known, or over'),
    state: z.enum(['running', 'cancelling', 'done', 'cancelled', 'failed']),
    endedAt: epochMs.nullable(),
    reason: z.string().nullable().describe('why it failed'),
    kept: z
      .object({ done: z.number(), of: z.number() })
      .nullable()
      .describe('of work given up: how much stays; null: nothing was changed'),
    done: z
      .number()
      .nullable()
      .describe(
        'readings stored, days made anew, hours gone through, bytes copied, readings made hours of, or bytes given back',
      ),
    replayed: replayed.nullable(),
  })
  .meta({ id: 'Job' })
export type JobView = z.infer<typeof job>

export const jobInput = z
  .discriminatedUnion('kind', [
    z.object({ kind: z.literal('rebuild') }),
    z.object({
      kind: z.literal('replay'),
      from: epochMs.nullable().default(null).describe('what was raised earlier is not told'),
      to: epochMs.nullable().default(null),
    }),
  ])
  .meta({ id: 'JobForm' })
