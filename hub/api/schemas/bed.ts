import { z } from 'zod'
import { TEXTURES } from '../../model/bed.ts'
import { QUANTITIES } from '../../model/quantity.ts'
import { alarm } from './alarm.ts'
import { band, column, epochMs, epochQuery, id, name, wholeText } from './common.ts'
import { damagedStretches } from './damaged.ts'
import { toSay } from '../../words/say.ts'

/** What a gardener enters for a bed. */
export const bedInput = z
  .object({
    name,
    areaM2: z.number().positive(toSay('expected more than 0')).max(10_000),
    depthM: z
      .number()
      .min(0.02, toSay('expected at least 0.02 m'))
      .max(1.5, toSay('expected at most 1.5 m'))
      .describe('depth to which the soil is worked, m'),
    texture: z.enum(TEXTURES),
    crops: z.array(z.string()).max(40).describe('slugs from /api/crops'),
    ownBand: band.nullable().describe('wins over the crops; null to use the crops'),
  })
  .meta({ id: 'BedForm' })
export type BedInput = z.infer<typeof bedInput>

const insufficient = z.object({
  status: z.literal('insufficient'),
  have: z.string(),
  need: z.string(),
})
/** A value with its doubt, or what is missing to give one. */
export const present = z
  .discriminatedUnion('status', [
    z.object({
      status: z.literal('ok'),
      value: z.number(),
      halfWidth: z.number().describe('half-width of the 95 % interval'),
      at: epochMs,
      used: z.array(z.string()),
      leftOut: z.array(z.object({ spot: z.string(), reason: z.string() })),
    }),
    insufficient,
  ])
  .meta({ id: 'Present' })
export type Present = z.infer<typeof present>

export const bandView = z
  .object({
    status: z.enum(['own', 'crops', 'empty', 'none']),
    band: band.nullable(),
    sentence: z.string(),
  })
  .meta({ id: 'BandView' })

export const spot = z.object({ id, bedId: id, name }).meta({ id: 'Spot' })
export const spotInput = z.object({ name }).meta({ id: 'SpotForm' })

/** One spot of a bed, with the probe that sits there now, if any. */
export const spotView = z
  .object({
    spotId: id,
    spot: z.string(),
    probe: z.string().nullable(),
    ph: z.number().nullable().describe('level: median of the latest readings'),
    newestPh: z.number().nullable().describe('the newest reading alone, whether it counts or not'),
    moisture: z.number().nullable(),
    temperatureC: z.number().nullable(),
    at: epochMs.nullable(),
    leftOut: z.string().nullable().describe('why its pH does not count; null when it does'),
  })
  .meta({ id: 'SpotView' })
export type SpotView = z.infer<typeof spotView>

/** A bed as the garden page shows it. */
export const bedView = z
  .object({
    id,
    name: z.string(),
    areaM2: z.number(),
    depthM: z.number(),
    texture: z.enum(TEXTURES),
    crops: z.array(z.object({ slug: z.string(), name: z.string() })),
    ownBand: band.nullable(),
    rank: z.number().int(),
    retiredAt: epochMs.nullable(),
    assessedAt: epochMs.nullable(),
    ph: present,
    moisture: present,
    temperature: present,
    band: bandView,
    standing: z.enum(['in band', 'below', 'above', 'unsure', 'unknown']),
    sentence: z.string(),
    spots: z.array(spotView),
    notices: z
      .array(
        z.object({
          probe: z.string(),
          spot: z.string(),
          kind: z.string(),
          needsCheck: z.boolean(),
          sentence: z.string(),
        }),
      )
      .describe('what keeps a probe from being believed, or needs telling'),
    alarms: z.array(alarm).describe('alarms that are not normal'),
  })
  .meta({ id: 'Bed' })
export type BedView = z.infer<typeof bedView>

export const seriesQuery = z.object({
  quantity: z.enum(QUANTITIES),
  from: epochQuery.describe('epoch milliseconds, inside'),
  to: epochQuery.describe('epoch milliseconds, outside'),
  points: wholeText(10, 5000)
    .default(600)
    .describe(
      'about how many points, 600 when left out; buckets are whole hours or days where readings are denser',
    ),
  spots: z.enum(['true', 'false']).default('false').describe('true: with every spot'),
})

/** A bed's history of one quantity as columns of equal length. */
export const bedSeries = z
  .object({
    bedId: id,
    quantity: z.enum(QUANTITIES),
    unit: z.string(),
    from: epochMs,
    to: epochMs,
    stepMs: z.number().describe('width of a bucket'),
    time: z.array(epochMs),
    value: column.describe('bed value: robust combination of the spots'),
    low: column.describe('lower end of the 95 % interval of the bed value'),
    high: column,
    min: column.describe('lowest reading of any counted spot in the bucket'),
    max: column,
    spots: z
      .array(
        z.object({
          spotId: id,
          spot: z.string(),
          probe: z.string(),
          value: column,
          leftOut: z.array(z.boolean()),
        }),
      )
      .describe('empty unless asked for'),
    damaged: damagedStretches.optional(),
  })
  .meta({ id: 'BedSeries' })
export type BedSeries = z.infer<typeof bedSeries>
