import { z } from 'zod'
import { ALARM_KINDS, ALARM_PRIORITIES, ALARM_STATES } from '../../model/alarm.ts'
import { epochMs, id, wholeText } from './common.ts'

export const alarm = z
  .object({
    id,
    bedId: id.nullable().describe('null: about the hub, or a probe that sits in no bed'),
    bed: z.string().nullable().describe('name of the bed'),
    kind: z.enum(ALARM_KINDS),
    subject: z.string().describe('a probe id, a part of the hub, or empty: the bed itself'),
    priority: z.enum(ALARM_PRIORITIES),
    state: z.enum(ALARM_STATES),
    raisedAt: epochMs,
    acknowledgedAt: epochMs.nullable(),
    returnedAt: epochMs.nullable(),
    overSince: epochMs
      .nullable()
      .describe(
        'the condition has been over since then; it returns to normal when that has lasted',
      ),
    shelvedUntil: epochMs
      .nullable()
      .describe('kept out of sight and out of messages until then, whatever its state is'),
    changedAt: epochMs,
    evidence: z.object({
      from: z.number().nullable(),
      to: z.number().nullable(),
      change: z.number().nullable(),
      changeHalfWidth: z.number().nullable(),
      since: epochMs.nullable(),
      spotsMoved: z.array(z.string()),
      spotsSteady: z.array(z.string()),
      sureness: z.number().min(0).max(1).nullable(),
      journalId: id.nullable(),
      cause: z.string().nullable().describe('most likely cause of a change of pH'),
      causeSettled: z.boolean().nullable().describe('false while that is provisional'),
    }),
    sentence: z.string(),
    advice: z.string(),
  })
  .meta({ id: 'Alarm' })
export type Alarm = z.infer<typeof alarm>

export const alarmQuery = z.object({
  open: z.enum(['true', 'false']).default('false').describe('true: only those that are not normal'),
  bed: wholeText(1, Number.MAX_SAFE_INTEGER).optional(),
  limit: wholeText(1, 1000).default(200),
})
