import { z } from 'zod'
import { toSay } from '../../words/say.ts'
import { epochMs, epochQuery, id, wholeText } from './common.ts'
import { calibrationCheck } from './probe.ts'

export const settlingQuery = z.object({
  channel: z.string().describe('a channel of the probe, such as phmv'),
  since: epochQuery.describe('since when it stands there, epoch milliseconds'),
  temperature: z
    .string()
    .regex(/^-?\d+(\.\d+)?$/, toSay('expected degrees Celsius'))
    .transform(Number)
    .optional()
    .describe('what the buffers are taken to have, degrees Celsius'),
})

/** Whether what a probe shows has come to rest. */
export const settlingView = z
  .object({
    state: z.enum(['nothing', 'too few', 'moving', 'settled']),
    value: z.number().nullable().describe('as sent; the mean of those that agree once settled'),
    at: epochMs.nullable().describe('time of the newest reading'),
    readings: z.number().int().describe('newest readings that agree'),
    spanMs: z.number(),
    unit: z.string(),
    warmth: z
      .string()
      .nullable()
      .describe('what to say when its own thermometer disagrees with the buffers'),
    sentence: z.string(),
  })
  .meta({ id: 'Settling' })
export type SettlingView = z.infer<typeof settlingView>

export const effectQuery = z.object({
  until: epochQuery
    .optional()
    .describe('readings up to then are looked at, such as before the probe was taken out'),
  replaces: wholeText(1, Number.MAX_SAFE_INTEGER)
    .optional()
    .describe('id of the stored calibration it stands in for'),
})

const reads = z.object({
  now: z.number().nullable().describe('by the calibrations that are stored'),
  then: z.number().nullable().describe('had the new one held all that time'),
})
const scale = z.enum(['probe range', 'volume', 'unknown']).nullable()

export const calibrationEffectView = z
  .object({
    quantity: z.enum(['ph', 'moisture']),
    scaleNow: scale,
    scaleThen: scale,
    at: epochMs.nullable().describe('newest hour with a value'),
    present: reads,
    middle: reads.describe('median of the last 30 days'),
    low: reads.describe('lowest hour in twenty'),
    high: reads.describe('highest hour in twenty'),
    hoursChanged: z.number().int().describe('stored hours that its own date changes'),
    changesFrom: epochMs.nullable(),
    sentence: z.string(),
  })
  .meta({ id: 'CalibrationEffect' })
export type CalibrationEffectView = z.infer<typeof calibrationEffectView>

export const electrodeHealthView = z
  .object({
    channel: z.string(),
    rows: z.array(calibrationCheck.extend({ id, at: epochMs })).describe('oldest first'),
    sentence: z.string(),
    dueAt: epochMs.nullable(),
    due: z.boolean(),
    reminder: z.string(),
  })
  .meta({ id: 'ElectrodeHealth' })
export type ElectrodeHealthView = z.infer<typeof electrodeHealthView>

export const weighedInput = z
  .object({
    tinG: z.number().min(0).max(1e5).describe('the tin alone'),
    wetG: z.number().min(0).max(1e5).describe('tin and soil as it came'),
    dryG: z.number().min(0).max(1e5).describe('tin and soil dried at 105 degrees'),
    volumeCm3: z.number().positive().max(1e5).nullable().default(null),
    bulkDensity: z.number().positive().max(5000).nullable().default(null).describe('kg/m3'),
  })
  .meta({ id: 'WeighedSoil' })
export type WeighedInput = z.input<typeof weighedInput>

export const weighedView = z
  .object({
    byMass: z.number().describe('water by mass of dry soil'),
    bulkDensity: z.number().describe('kg/m3'),
    byVolume: z.number().describe('m3/m3'),
    sentence: z.string(),
  })
  .meta({ id: 'WaterByWeight' })
export type WeighedView = z.infer<typeof weighedView>
