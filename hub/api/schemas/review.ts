import { z } from 'zod'
import { column, epochMs, epochQuery, id } from './common.ts'
import { comparison, effectAnswer, interval } from './findings.ts'
import { planView } from './planning.ts'

const reviewedTreatment = z
  .object({
    entryIds: z.array(id),
    at: epochMs,
    material: z.string(),
    amountG: z.number().nullable(),
    effect: effectAnswer.nullable(),
    phMonths: interval.nullable().describe('pH times months gained so far'),
    cost: z
      .object({
        value: z.number(),
        low: z.number(),
        high: z.number().nullable(),
        currency: z.string(),
      })
      .nullable()
      .describe('money for one pH over one month'),
    worked: z.enum(['yes', 'no', 'not known']),
    sentence: z.string(),
  })
  .meta({ id: 'ReviewedTreatment' })
export type ReviewedTreatmentView = z.infer<typeof reviewedTreatment>

export const bedReview = z
  .object({
    bedId: id,
    bed: z.string(),
    treatments: z.array(reviewedTreatment),
    nextDue: z
      .object({
        typical: epochMs.nullable(),
        earliest: epochMs.nullable(),
        latest: epochMs.nullable(),
      })
      .nullable(),
    nextSentence: z.string(),
    sentence: z.string(),
  })
  .meta({ id: 'BedReview' })
export type BedReviewView = z.infer<typeof bedReview>

/** The whole garden looked back on. */
export const gardenReview = z
  .object({
    at: epochMs,
    beds: z.array(bedReview),
    materials: comparison.describe('what each material did over all beds'),
    plans: z.array(planView).describe('plans that run'),
  })
  .meta({ id: 'GardenReview' })
export type GardenReview = z.infer<typeof gardenReview>

export const reportQuery = z.object({
  from: epochQuery.describe('epoch milliseconds, inside'),
  to: epochQuery.describe('epoch milliseconds, outside'),
})

export const seasonReport = z
  .object({
    bedId: id,
    bed: z.string(),
    crops: z.array(z.string()),
    areaM2: z.number(),
    band: z.object({ low: z.number(), high: z.number() }).nullable(),
    from: epochMs,
    to: epochMs,
    months: z.array(
      z.object({
        month: z.string().describe("'YYYY-MM' in the garden's zone"),
        days: z.number().int(),
        median: z.number().nullable(),
        lowest: z.number().nullable(),
        highest: z.number().nullable(),
        inBand: z.number().int().nullable().describe('days inside the band'),
        soilC: z.number().nullable(),
        waterL: z.number(),
      }),
    ),
    change: interval.nullable(),
    inBandShare: interval.nullable(),
    samples: z.array(z.object({ at: epochMs, ph: z.number(), method: z.string() })),
    events: z.array(z.object({ at: epochMs, sentence: z.string() })),
    review: bedReview,
    course: z
      .object({ time: z.array(epochMs), value: column, low: column, high: column })
      .describe('the bed day by day'),
    sentence: z.string(),
  })
  .meta({ id: 'SeasonReport' })
export type SeasonReportView = z.infer<typeof seasonReport>
