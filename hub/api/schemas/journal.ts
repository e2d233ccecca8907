import { z } from 'zod'
import { JOURNAL_KINDS, SAMPLE_METHODS } from '../../model/journal.ts'
import { epochMs, epochQuery, id, probeId } from './common.ts'
import { say } from '../../words/say.ts'

export const entryInput = z
  .object({
    at: epochMs.describe('when it happened'),
    kind: z.enum(JOURNAL_KINDS),
    material: z
      .string()
      .trim()
      .max(80)
      .nullable()
      .default(null)
      .describe('treatment: what was put on'),
    amountG: z
      .number()
      .positive()
      .max(1e7)
      .nullable()
      .default(null)
      .describe('treatment: g on the whole bed'),
    waterL: z
      .number()
      .positive()
      .max(1e6)
      .nullable()
      .default(null)
      .describe('irrigation: L on the whole bed'),
    probe: probeId.nullable().default(null).describe('service: the probe that was handled'),
    ph: z
      .number()
      .min(0)
      .max(14)
      .nullable()
      .default(null)
      .describe('sample: pH by hand or laboratory'),
    method: z.enum(SAMPLE_METHODS).nullable().default(null).describe('sample: how it was measured'),
    text: z.string().max(2000).default(''),
  })
  .superRefine((e, ctx) => {
    const need = (ok: boolean, path: string, message: string): void => {
      if (!ok) ctx.addIssue({ code: 'custom', path: [path], message })
    }
    if (e.kind === 'treatment')
      need((e.material ?? '') !== '', 'material', say`say what was put on`)
    if (e.kind === 'sample') {
      need(e.ph !== null, 'ph', say`give the pH that was measured`)
      need(e.method !== null, 'method', say`say how it was measured`)
    }
    if (e.kind === 'note') need(e.text.trim() !== '', 'text', say`a note needs some text`)
  })
  .meta({ id: 'JournalForm' })
export type EntryInput = z.input<typeof entryInput>

export const entry = z
  .object({
    id,
    bedId: id,
    at: epochMs,
    kind: z.enum(JOURNAL_KINDS),
    material: z.string().nullable(),
    amountG: z.number().nullable(),
    waterL: z.number().nullable(),
    probe: z.string().nullable(),
    ph: z.number().nullable(),
    method: z.enum(SAMPLE_METHODS).nullable(),
    text: z.string(),
    by: z.string().nullable().optional().describe('who wrote it; null: nobody had to say'),
  })
  .meta({ id: 'JournalEntry' })
export type Entry = z.infer<typeof entry>

export const journalQuery = z.object({
  from: epochQuery.optional(),
  to: epochQuery.optional(),
})

/** Something with a day of the garden's zone. */
export const dayAhead = z
  .object({
    key: z.string().describe('stable: the same thing keeps it'),
    day: z.iso.date(),
    bedId: id.nullable(),
    bed: z.string().nullable(),
    kind: z.enum(['treat', 'measure again', 'next treatment about', 'trial ends', 'calibrate']),
    summary: z.string(),
    text: z.string(),
  })
  .meta({ id: 'DayAhead' })
export type DayAhead = z.infer<typeof dayAhead>
