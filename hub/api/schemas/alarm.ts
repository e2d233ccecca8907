import { z } from 'zod'
import {
  ALARM_CHANGES,
  ALARM_FIGURES,
  ALARM_KINDS,
  ALARM_PRIORITIES,
  ALARM_STATES,
} from '../../model/alarm.ts'
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
      figures: z
        .array(
          z.object({
            what: z.enum(ALARM_FIGURES),
            value: z.number(),
            halfWidth: z.number().nullable().describe('of the 95 % interval'),
            unit: z
              .enum(['pH', '1', 'V', '%', 'bytes', 'ms', 'at'])
              .describe('1: a share; at: a time, epoch ms'),
          }),
        )
        .describe('what else it rests on'),
    }),
    sentence: z.string(),
    advice: z.string(),
  })
  .meta({ id: 'Alarm' })
export type Alarm = z.infer<typeof alarm>

/** Longest note, characters. */
export const LONGEST_NOTE = 500
const note = z.string().trim().max(LONGEST_NOTE)

export const alarmQuery = z.object({
  open: z.enum(['true', 'false']).default('false').describe('true: only those that are not normal'),
  over: z
    .enum(['true', 'false'])
    .default('false')
    .describe('true: only those that are normal again'),
  bed: wholeText(0, Number.MAX_SAFE_INTEGER).optional().describe('0: about no bed'),
  kind: z.enum(ALARM_KINDS).optional(),
  from: wholeText(0, Number.MAX_SAFE_INTEGER).optional().describe('raised then or later, epoch ms'),
  to: wholeText(0, Number.MAX_SAFE_INTEGER).optional().describe('raised before, epoch ms'),
  limit: wholeText(1, 1000).default(200),
})

export const alarmChange = z
  .object({
    id,
    at: epochMs,
    what: z.enum(ALARM_CHANGES),
    by: z.string().nullable().describe('null: the hub, or somebody without a name'),
    note: z.string(),
    state: z.enum(ALARM_STATES),
    shelvedUntil: epochMs.nullable(),
    sentence: z.string(),
  })
  .meta({ id: 'AlarmChange' })
export type AlarmChange = z.infer<typeof alarmChange>

export const alarmWithChanges = z
  .object({ alarm, changes: z.array(alarmChange).describe('ascending') })
  .meta({ id: 'AlarmWithChanges' })
export type AlarmWithChanges = z.infer<typeof alarmWithChanges>

export const acknowledging = z.object({ note: note.default('') }).nullish()
export const acknowledgingMany = z.object({
  ids: z.array(id).min(1).max(500),
  note: note.default(''),
})
export const shelving = z.object({
  until: epochMs.describe('ahead of now, at most 366 days'),
  note: note.default(''),
})
export const noting = z.object({ note: note.min(1) })
