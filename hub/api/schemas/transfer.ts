import { z } from 'zod'
import { SENSED } from '../../model/quantity.ts'
import { isZone } from '../../model/zone.ts'
import { DELIMITERS } from '../../transfer/import-map.ts'
import type { ImportMap } from '../../transfer/import-map.ts'
import { RECORD_TABLES } from '../../transfer/record-tables.ts'
import { TIME_FORMATS } from '../../transfer/read-time.ts'
import { epochMs, epochQuery, probeId } from './common.ts'
import { say, toSay } from '../../words/say.ts'

const column = z.string().min(1, toSay('expected a column')).max(200)
const zone = z
  .string()
  .refine((text) => text === 'UTC' || isZone(text), toSay('expected an IANA zone, or UTC'))
const probe = z.union([z.object({ column }), z.object({ id: probeId })])
const channels = z
  .array(
    z.object({
      column: column.describe('heading of a column, name of a field, or of a channel in the file'),
      channel: z
        .string()
        .regex(
          /^[a-z][a-z0-9]{0,7}(\.s)?$/,
          toSay('expected a channel name of 1 to 8 lower-case letters and digits, a letter first'),
        ),
      unit: z.string().max(20).describe("unit in the file; empty: the channel's own"),
      senses: z.enum(SENSED).nullable().describe('of a new channel; null: as its name says'),
    }),
  )
  .max(64)
const table = {
  delimiter: z.enum(DELIMITERS),
  decimal: z.enum(['.', ',']),
  headings: z.boolean().describe("whether the first row holds headings; without, '#1' is a column"),
  time: z.object({ column, format: z.enum(TIME_FORMATS), zone }),
  probe,
  channels,
}

/** How the columns of a file become readings. */
export const importMap = z
  .discriminatedUnion('layout', [
    z.object({
      layout: z.literal('wide'),
      ...table,
      channels: channels.min(1, toSay('expected at least one column with values')),
    }),
    z.object({
      layout: z.literal('long'),
      ...table,
      channelColumn: column,
      valueColumn: column,
      unitColumn: column.nullable(),
    }),
    z.object({
      layout: z.literal('lines'),
      precision: z.enum(['ns', 'us', 'ms', 's']),
      probe,
      channels,
    }),
    z.object({
      layout: z.literal('senml'),
      probe: probe.describe("column 'name': the part of a name before the channel"),
      channels,
    }),
  ])
  .meta({ id: 'ImportMap' }) satisfies z.ZodType<ImportMap>

export type ImportMapInput = z.infer<typeof importMap>

/** The map as JSON in the address, because the body is the file itself. */
export const importQuery = z.object({
  map: z
    .string()
    .transform((text, context) => {
      try {
        return JSON.parse(text) as unknown
      } catch {
        context.addIssue(say`expected JSON`)
        return z.NEVER
      }
    })
    .pipe(importMap)
    .describe('JSON: how the columns of the file become readings'),
})

export const lookQuery = z.object({ delimiter: z.enum(DELIMITERS).optional() })

/** A first guess may leave open what nothing in the file names. */
const openMap = z.record(z.string(), z.unknown())
export const firstLook = z
  .object({
    columns: z.array(z.string()),
    rows: z.array(z.array(z.string())),
    map: openMap.describe('a guess; what nothing names is left empty'),
  })
  .meta({ id: 'FirstLook' })
export type FirstLookView = Omit<z.infer<typeof firstLook>, 'map'> & {
  readonly map: ImportMapInput
}

export const importReport = z
  .object({
    rows: z.number().int(),
    empty: z.number().int().describe('rows in which nothing was measured'),
    badCount: z.number().int(),
    bad: z
      .array(
        z.object({
          line: z.number().int(),
          column: z.string().nullable(),
          expected: z.string(),
          got: z.string(),
        }),
      )
      .describe('the first of them'),
    probes: z.array(
      z.object({
        id: z.string(),
        isNew: z.boolean(),
        readings: z.number().int(),
        from: epochMs,
        to: epochMs,
        channels: z.array(
          z.object({
            name: z.string(),
            senses: z.enum(SENSED),
            unit: z.string(),
            isNew: z.boolean(),
          }),
        ),
      }),
    ),
    readings: z.number().int().describe('the values of one probe at one moment'),
    present: z.number().int().describe('of those, already stored'),
    preview: z.array(
      z.object({
        line: z.number().int(),
        at: epochMs,
        probe: z.string(),
        values: z.array(
          z.object({ channel: z.string(), value: z.number().nullable().describe('null: failed') }),
        ),
      }),
    ),
    stored: z
      .number()
      .int()
      .nullable()
      .describe('readings stored now; null: nothing, on asking or because a row is bad'),
  })
  .meta({ id: 'ImportReport' })
export type ImportReportView = z.infer<typeof importReport>

const names = z
  .string()
  .optional()
  .transform((text) => (text === undefined || text === '' ? null : text.split(',')))
export const exportQuery = z.object({
  probe: names.describe('ids with commas between; left out: all'),
  channel: names.describe('names with commas between; left out: all'),
  from: epochQuery.optional(),
  to: epochQuery.optional(),
  step: z.enum(['raw', 'hour']).default('raw'),
  layout: z
    .enum(['wide', 'long'])
    .default('wide')
    .describe('one column a channel, or one value a row'),
  zone: zone.optional().describe("zone in which times are written; left out: the garden's"),
})
export const recordParam = z.object({ table: z.enum(RECORD_TABLES) })
