import { z } from 'zod'
import { LEAST_RAW_MONTHS, MOST_RAW_MONTHS } from '../../model/storage.ts'
import { say } from '../../words/say.ts'
import { epochMs, wholeText } from './common.ts'

const bytes = z.number().min(0).describe('bytes')
const pace = z
  .object({ value: z.number(), low: z.number(), high: z.number() })
  .describe('bytes a day, with an interval that holds it four times out of five')

const forecast = z.discriminatedUnion('status', [
  z.object({
    status: z.literal('insufficient'),
    have: z.number().describe('days'),
    need: z.number().describe('days'),
  }),
  z.object({
    status: z.literal('ok'),
    days: z.number().describe('days it was learnt from'),
    own: pace.describe('growth of the data folder, bytes a day'),
    disk: pace.describe('fall of the free space, bytes a day'),
    fullAt: epochMs.nullable().describe('null: not within twenty years'),
    fullFrom: epochMs.nullable().describe('at the high pace'),
    fullBy: epochMs.nullable().describe('at the low pace'),
  }),
])

const retention = z.object({
  rawMonths: z.number().int().nullable().describe('null: raw readings are kept for ever'),
  decidedAt: epochMs.nullable(),
})

/** What the hub's readings and records take, and how that goes on. */
export const storage = z
  .object({
    folderBytes: bytes.nullable().describe('everything in the data folder; null: cannot be told'),
    disk: z.object({ freeBytes: bytes, totalBytes: bytes }).nullable(),
    readings: z
      .object({
        bytes: bytes.describe('of the file of readings'),
        emptyBytes: bytes.describe('of these: emptied, used for what comes next'),
        kept: z.number().describe('readings kept whole'),
        values: z.number().describe('of all their channels'),
        bytesPerReading: z.number().nullable().describe('null: too few to tell'),
        bytesPerValue: z.number().nullable(),
        hours: z.number().describe('hours of channels that stand for readings that are gone'),
        hourBytes: bytes,
        thinnedTo: epochMs.nullable().describe('readings of some probe before this are hours'),
        shrinks: z.boolean().describe('emptied space can be given back while the hub runs'),
      })
      .nullable()
      .describe('null: they lie in a database of its own that keeps house by itself'),
    retention,
    forecast,
    sentence: z.string().describe('when the disk is full, how sure that is, and why'),
  })
  .meta({ id: 'Storage' })
export type StorageView = z.infer<typeof storage>

const months = {
  error: () =>
    say`expected a whole number of months from ${LEAST_RAW_MONTHS} to ${MOST_RAW_MONTHS}`,
}
export const thinningQuery = z.object({
  months: wholeText(LEAST_RAW_MONTHS, MOST_RAW_MONTHS).default(24),
})

/** What thinning would do; nothing is changed by asking. */
export const thinning = z
  .object({
    before: epochMs.describe('readings older than this would become hours'),
    readings: z.number(),
    values: z.number(),
    bytes: bytes.describe('what these readings take now'),
    hours: z.number().describe('hours of channels that would stay in their place'),
    hourBytes: bytes,
    savedBytes: bytes.describe('less on the disk'),
    daysKept: z
      .number()
      .describe('days of probes that stay as they are: their hours would take as much'),
    sentence: z.string(),
    notes: z.array(z.string()).describe('what stays and what is lost'),
  })
  .meta({ id: 'Thinning' })
export type ThinningView = z.infer<typeof thinning>

export const retentionInput = z
  .object({
    rawMonths: z
      .number(months)
      .int(months)
      .min(LEAST_RAW_MONTHS, months)
      .max(MOST_RAW_MONTHS, months)
      .nullable(),
    backup: z
      .boolean()
      .default(false)
      .describe('that a backup was made, or that none is wanted; needed to thin'),
  })
  .meta({ id: 'RetentionForm' })
export type RetentionInput = z.infer<typeof retentionInput>
