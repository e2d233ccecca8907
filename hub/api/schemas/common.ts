import { z } from 'zod'

/** Epoch milliseconds. */
export const epochMs = z.number().int().min(0).max(8.64e15).describe('epoch milliseconds')
/** The same in a query string. */
export const epochQuery = z.coerce.number().int().min(0).max(8.64e15)
export const id = z.number().int().positive()
export const idParam = z.object({ id: z.coerce.number().int().positive() })
export const probeIdPattern = /^[a-z][a-z0-9]{2,22}$/
export const probeId = z
  .string()
  .regex(
    probeIdPattern,
    'a probe id is 3 to 23 characters: a lower-case letter, then letters or digits',
  )
export const probeParam = z.object({ id: probeId })
export const name = z.string().trim().min(1, 'a name is needed').max(60, 'at most 60 characters')
/** A column for a chart: null where nothing is known. */
export const column = z.array(z.number().nullable())

/** RFC 9457 problem details. */
export const problem = z
  .object({
    type: z.string().describe('about:blank, or a URI that names the kind of problem'),
    title: z.string(),
    status: z.number().int(),
    detail: z.string().optional(),
    errors: z
      .array(z.object({ path: z.string(), message: z.string() }))
      .optional()
      .describe('one row for each value that could not be used'),
  })
  .meta({ id: 'Problem' })
export type Problem = z.infer<typeof problem>

export const band = z
  .object({ low: z.number().min(0).max(14), high: z.number().min(0).max(14) })
  .refine((b) => b.low < b.high, 'the lower edge must be below the upper edge')
