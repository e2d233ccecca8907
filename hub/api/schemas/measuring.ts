import { z } from 'zod'
import { MOST_HAND_SPOTS } from '../../analysis/measure/hand-session.ts'
import { SAMPLE_METHODS } from '../../model/journal.ts'
import { epochMs } from './common.ts'
import { toSay } from '../../words/say.ts'

const wanted = z
  .number()
  .min(0.05, toSay('expected 0.05 to 1 pH'))
  .max(1, toSay('expected 0.05 to 1 pH'))
  .describe('half-width of the 95 % interval that is wanted, pH')

export const measuringQuery = z.object({
  wanted: z
    .preprocess((text) => (typeof text === 'string' ? Number(text) : text), wanted)
    .default(0.2),
})

/** How to go about measuring a bed by hand. */
export const measuringPlan = z
  .object({
    wanted: z.number(),
    spots: z.number().int().describe('how many spots that takes'),
    spotSd: z.number().describe('standard deviation among spots it rests on, pH'),
    sentence: z.string(),
    scales: z.string().describe('which ways of measuring share a scale'),
    protocols: z.array(
      z.object({
        methods: z.array(z.enum(SAMPLE_METHODS)),
        sources: z.array(z.string()),
        steps: z.array(
          z.object({ title: z.string(), text: z.string(), waitS: z.number().nullable() }),
        ),
      }),
    ),
  })
  .meta({ id: 'MeasuringPlan' })
export type MeasuringPlan = z.infer<typeof measuringPlan>

const values = z
  .array(
    z.number().min(0, toSay('expected a pH of 0 to 14')).max(14, toSay('expected a pH of 0 to 14')),
  )
  .min(1, toSay('expected at least one value'))
  .max(MOST_HAND_SPOTS)
  .describe('pH, one value a spot')

export const handValues = z.object({ values, wanted }).meta({ id: 'HandValues' })
export type HandValues = z.input<typeof handValues>

export const handResultView = z
  .object({
    n: z.number().int(),
    mean: z.number().describe('arithmetic mean, pH'),
    standardError: z.number().nullable(),
    halfWidth: z.number().nullable().describe('of the 95 % interval'),
    needed: z.number().int(),
    more: z.number().int().describe('spots still missing for what is wanted'),
    sentence: z.string(),
    source: z.string(),
  })
  .meta({ id: 'HandResult' })
export type HandResultView = z.infer<typeof handResultView>

export const handSession = z
  .object({
    at: epochMs.describe('when it was measured'),
    method: z.enum(SAMPLE_METHODS),
    values,
    wanted,
    text: z.string().max(1000).default(''),
  })
  .meta({ id: 'HandSession' })
export type HandSession = z.input<typeof handSession>
