import { z } from 'zod'
import { say, toSay } from '../../words/say.ts'

/** Epoch milliseconds. */
export const epochMs = z.number().int().min(0).max(8.64e15).describe('epoch milliseconds')
/**
 * A whole number in an address or a query string. Digits alone: an empty text is no zero, and '0x1' is not
 * the first bed.
 */
export const wholeText = (least: number, most: number) => {
  const wanted = { error: () => say`expected a whole number from ${least} to ${most}` }
  return z.preprocess(
    (text) => (typeof text === 'string' && /^-?\d+$/.test(text) ? Number(text) : text),
    z.number(wanted).int(wanted).min(least, wanted).max(most, wanted),
  )
}
/** Epoch milliseconds in a query string. */
export const epochQuery = wholeText(0, 8.64e15)
export const id = z.number().int().positive()
export const idParam = z.object({ id: wholeText(1, Number.MAX_SAFE_INTEGER) })
export const probeIdPattern = /^[a-z][a-z0-9]{2,22}$/
export const probeId = z
  .string()
  .regex(probeIdPattern, toSay('expected 3 to 23 lower-case letters and digits, a letter first'))
/** Ids of the wire format that stand for something else in the topic tree: no probe can have them. */
export const RESERVED_PROBE_IDS: readonly string[] = ['hub', 'test', 'pair']
export const newProbeId = probeId.refine((text) => !RESERVED_PROBE_IDS.includes(text), {
  error: () => say`expected an id other than ${RESERVED_PROBE_IDS.join(', ')}`,
})
export const probeParam = z.object({ id: probeId })
/** What a person calls something. It is shown in lists, log lines and messages: one line of text. */
export const name = z
  .string()
  .trim()
  .min(1, toSay('a name is needed'))
  .max(60, toSay('expected at most 60 characters'))
  .regex(/^\P{C}*$/u, toSay('expected one line without control characters'))
/** The same, or empty: then the id is the name. */
export const nameOrEmpty = z
  .string()
  .trim()
  .max(60, toSay('expected at most 60 characters'))
  .regex(/^\P{C}*$/u, toSay('expected one line without control characters'))
  .describe('empty: the id is its name')
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
  .refine((b) => b.low < b.high, toSay('the lower edge must be below the upper edge'))
