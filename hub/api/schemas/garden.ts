import { z } from 'zod'
import { TEXTURES } from '../../model/bed.ts'
import { LANGUAGES } from '../../model/language.ts'
import { BUFFER_SET_IDS } from '../../model/probe.ts'
import { band, name } from './common.ts'

export const garden = z
  .object({
    name,
    zone: z.string().describe('IANA time zone of the garden, such as Europe/Lisbon'),
    units: z.enum(['metric', 'us']).describe('how amounts and temperatures are shown'),
    language: z.enum(LANGUAGES).describe('of sentences, pages and messages'),
  })
  .meta({ id: 'Garden' })
export type Garden = z.infer<typeof garden>

/** A change of it; what is left out of `language` stays. */
export const gardenChange = garden.partial({ language: true }).meta({ id: 'GardenChange' })

const source = z
  .object({
    id: z.string(),
    publisher: z.string(),
    title: z.string(),
    year: z.union([z.number(), z.string()]).nullable(),
    url: z.string().nullable(),
    seen: z.string().describe('how the project knows it: read, abstract read, from memory ...'),
  })
  .meta({ id: 'Source' })

export const crop = z
  .object({
    slug: z.string(),
    name: z.string(),
    category: z.string(),
    band,
    basis: z.string().describe('where the working band comes from, in words'),
    published: z.array(
      z.object({
        low: z.number().nullable(),
        high: z.number().nullable(),
        source,
        group: z.boolean().describe('a statement about a group of crops, not this crop'),
        note: z.string(),
      }),
    ),
    /** Widest disagreement of crop-specific sources on one edge, pH units. */
    disagreement: z.number().nullable(),
  })
  .meta({ id: 'Crop' })
export type Crop = z.infer<typeof crop>

export const texture = z
  .object({
    name: z.enum(TEXTURES),
    fieldCapacity: z.number().nullable().describe('m3/m3'),
    wiltingPoint: z.number().nullable().describe('m3/m3'),
    source: z.string(),
  })
  .meta({ id: 'Texture' })
export type Texture = z.infer<typeof texture>

export const bufferSet = z
  .object({
    id: z.enum(BUFFER_SET_IDS),
    name: z.string(),
    source: z.string(),
    buffers: z.array(
      z.object({
        name: z.string(),
        points: z.array(z.object({ temperatureC: z.number(), ph: z.number() })),
      }),
    ),
  })
  .meta({ id: 'BufferSet' })
export type BufferSet = z.infer<typeof bufferSet>
