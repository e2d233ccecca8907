import { z } from 'zod'
import { epochMs, id } from './common.ts'

const count = z.number().int().min(0)

/** Bytes of readings that were changed on the disk by something other than the hub. */
export const damagedPart = z
  .object({
    id,
    metAt: epochMs.describe('when they were met'),
    what: z
      .enum(['batch', 'readings', 'names', 'hours'])
      .describe(
        'batch: readings that waited in the log, of nobody knows which probes; readings: of one probe, from and to; ' +
          'names: of a day that had become hours, by which readings that come again are known; hours: what stood for such a day',
      ),
    probe: z.string().nullable().describe('null: nobody knows'),
    from: z.number().nullable().describe('epoch milliseconds; null: nobody knows'),
    to: z.number().nullable().describe('not included'),
    readings: count.describe('how many were in them, or are behind the hours'),
    now: count.nullable().describe('readings that are kept within that stretch now'),
    back: count.describe('how many of them a backup has brought back'),
    bytes: count.describe('kept as they were found; none once it is settled'),
    why: z.string(),
    settled: z
      .object({ at: epochMs, how: z.enum(['back', 'gone']) })
      .nullable()
      .describe('null: nobody has decided yet'),
  })
  .meta({ id: 'DamagedPart' })
export type DamagedPartView = z.infer<typeof damagedPart>

/** What a backup brought back. */
export const broughtBack = z
  .object({
    madeAt: epochMs.describe('when the backup was made'),
    readings: count.describe('that are kept now and were not before'),
    parts: z
      .array(
        z.object({
          id,
          found: count.describe('readings of it in the backup'),
          of: count,
          why: z
            .enum(['hours only', 'nothing'])
            .nullable()
            .describe('why the backup is no use for it; null: it is'),
        }),
      )
      .describe('each part that was open'),
  })
  .meta({ id: 'BroughtBack' })
export type BroughtBackView = z.infer<typeof broughtBack>

/** Stretches in which readings are missing because they were damaged on the disk. */
export const damagedStretches = z
  .array(
    z.object({
      from: z.number().describe('epoch milliseconds'),
      to: z.number().describe('not included'),
      readings: count,
      gone: z.boolean().describe('somebody has said that they do not come back'),
    }),
  )
  .describe('where readings are missing because they were damaged on the disk; absent: nowhere')
