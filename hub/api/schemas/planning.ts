import { z } from 'zod'
import { SAMPLE_METHODS } from '../../model/journal.ts'
import { PLAN_ENDINGS } from '../../model/plan.ts'
import { BUFFERING_KINDS } from '../../planning/buffering.ts'
import { FOLLOW_VERDICTS } from '../../planning/follow.ts'
import { NEEDS } from '../../planning/need.ts'
import { SETTLES } from '../../planning/told.ts'
import { band, column, epochMs, id, name } from './common.ts'
import { interval } from './findings.ts'
import { entry } from './journal.ts'
import { toSay } from '../../words/say.ts'

/** A publication that something rests on. */
export const sourceView = z
  .object({
    id: z.string(),
    publisher: z.string(),
    title: z.string(),
    year: z.number().int().nullable(),
    url: z.string().nullable(),
    seen: z.string().describe('how it was seen: read, abstract read, from memory …'),
  })
  .meta({ id: 'Publication' })
export type SourceView = z.infer<typeof sourceView>

/** Least, most likely, largest; signed changes by their size. */
export const range = z
  .object({ low: z.number(), typical: z.number(), high: z.number() })
  .meta({ id: 'Range' })
export type RangeView = z.infer<typeof range>

export const told = z
  .object({
    effect: z.enum(['refuse', 'wait', 'ask', 'limit', 'warn', 'tell']),
    sentence: z.string(),
    reason: z.string(),
    until: epochMs.nullable(),
    settle: z.enum(SETTLES).nullable().describe('where the gardener can put it right'),
    sources: z.array(sourceView).describe('empty: common practice, no source'),
  })
  .meta({ id: 'Told' })
export type ToldView = z.infer<typeof told>

const need = z
  .object({
    verdict: z.enum(NEEDS),
    ph: interval.nullable().describe('median of the last valid days'),
    days: z.number().int(),
    band: band.nullable(),
    bandSentence: z.string(),
    crops: z
      .array(
        z.object({
          name: z.string(),
          band,
          published: z.array(
            z.object({
              low: z.number().nullable(),
              high: z.number().nullable(),
              group: z.boolean().describe('said of a group of crops, not of this one'),
              source: sourceView,
            }),
          ),
          disagreement: z.number().nullable().describe('largest gap between sources on one edge'),
        }),
      )
      .describe('the crops of the bed, each with what is published'),
    target: z.number().nullable(),
    change: z.number(),
    confirmation: z
      .object({
        entryId: id,
        at: epochMs,
        ph: z.number(),
        method: z.enum(SAMPLE_METHODS),
        apart: z.number().nullable(),
      })
      .nullable(),
    told: z.array(told),
    nutrients: z.object({
      sentence: z.string(),
      hard: z.array(z.object({ name: z.string(), why: z.string() })),
      sources: z.array(sourceView),
    }),
    sentence: z.string(),
    grounds: z.array(z.string()),
  })
  .meta({ id: 'Need' })
export type NeedView = z.infer<typeof need>

/** What decides a dose and is not part of the bed. */
export const soilInput = z
  .object({
    bulkDensity: z
      .number()
      .min(100, toSay('expected at least 100 kg/m3 (3.3 oz in a quart)'))
      .max(2000, toSay('expected at most 2000 kg/m3 (67 oz in a quart)'))
      .nullable()
      .describe('dry mass of the soil as it lies, kg/m3; null: judged by texture'),
    planting: z
      .enum(['bare', 'standing'])
      .nullable()
      .describe('standing: plants that stay, nothing can be dug in'),
    hardWater: z.boolean().nullable().describe('whether the water it gets is hard'),
  })
  .meta({ id: 'SoilForm' })
export type SoilInput = z.infer<typeof soilInput>

const testCommon = { at: epochMs.describe('when'), text: z.string().max(500).default('') }
const ph = z
  .number()
  .min(2, toSay('expected pH 2 or more'))
  .max(12, toSay('expected pH 12 or less'))
export const soilTestInput = z
  .discriminatedUnion('kind', [
    z.object({
      kind: z.literal('lime requirement'),
      ...testCommon,
      limeGM2: z.number().positive().max(20_000).describe('pure calcium carbonate, g/m2'),
      depthM: z.number().min(0.02).max(1.5).describe('depth it is worked in, m'),
      fromPh: ph,
      toPh: ph,
    }),
    z.object({
      kind: z.literal('exchangeable acidity'),
      ...testCommon,
      meqPer100G: z.number().min(0).max(60),
      ph,
    }),
    z.object({
      kind: z.literal('jar test'),
      ...testCommon,
      soilG: z.number().min(10, toSay('expected at least 10 g')).max(5000),
      jars: z
        .array(
          z.object({
            limeG: z.number().min(0).max(500).describe('as pure calcium carbonate, g'),
            ph,
          }),
        )
        .min(3, toSay('expected at least three jars'))
        .max(12),
    }),
    z.object({ kind: z.literal('vinegar test'), ...testCommon, fizzes: z.boolean() }),
  ])
  .meta({ id: 'SoilTestForm' })
export type SoilTestInput = z.input<typeof soilTestInput>

export const soilTestView = z
  .object({
    id,
    bedId: id,
    at: epochMs,
    kind: z.enum(['lime requirement', 'exchangeable acidity', 'jar test', 'vinegar test']),
    text: z.string(),
    sentence: z.string().describe('what was found, in words and figures'),
  })
  .meta({ id: 'SoilTest' })
export type SoilTestView = z.infer<typeof soilTestView>

const buffering = z
  .object({
    gM2PerPh: range.describe('pure calcium carbonate, g/m2 for one pH over the worked depth'),
    parts: z.array(
      z.object({
        kind: z.enum(BUFFERING_KINDS),
        gM2PerPh: range,
        weight: z.number().describe('share in the whole, 0 to 1'),
        sentence: z.string(),
        sources: z.array(sourceView),
      }),
    ),
    sentence: z.string(),
  })
  .meta({ id: 'Buffering' })

export const materialOption = z
  .object({
    material: z.string().describe('slug'),
    name: z.string(),
    direction: z.enum(['raises', 'lowers', 'none', 'unclear']),
    verdict: z.enum(['possible', 'wait', 'refused']),
    told: z.array(told),
    strength: range.nullable().describe('g of calcium carbonate that 1 g is worth'),
    label: z
      .object({ words: z.string(), perWhole: z.number() })
      .nullable()
      .describe('what the label calls it, and the strength at 100 % of it'),
    dose: z
      .object({ gM2: range, bedG: range, steps: z.array(z.string()) })
      .nullable()
      .describe('product for the whole way; it goes on in portions'),
    most: z
      .object({ gM2: z.number(), bedG: z.number() })
      .nullable()
      .describe('the most in a year, where that is less than the whole way takes'),
    expected: z.string(),
    cautions: z.array(z.object({ text: z.string(), source: sourceView.nullable() })),
  })
  .meta({ id: 'MaterialOption' })
export type MaterialOptionView = z.infer<typeof materialOption>

const course = z
  .object({ time: z.array(epochMs), low: column, typical: column, high: column })
  .meta({ id: 'Course' })
export type Course = z.infer<typeof course>

const draftStage = z.object({
  dueAt: epochMs,
  amountG: z.number(),
  gM2: z.number(),
  change: range,
  fullFrom: epochMs,
  fullBy: epochMs,
  retestsAt: z.array(epochMs),
})
export const draftView = z
  .object({
    material: z.string(),
    name: z.string(),
    strength: z.number(),
    fromPh: z.number(),
    targetPh: z.number(),
    stages: z.array(draftStage),
    ends: range,
    course,
    told: z.array(told),
    sentence: z.string(),
    grounds: z.array(z.string()),
  })
  .meta({ id: 'PlanDraft' })
export type DraftView = z.infer<typeof draftView>

const measured = z
  .object({
    ph: interval.nullable(),
    from: epochMs,
    to: epochMs,
    samples: z.array(entry),
  })
  .nullable()

/** A kept plan with how it goes. */
export const planView = z
  .object({
    id,
    bedId: id,
    bed: z.string(),
    createdAt: epochMs,
    material: z.string(),
    name: z.string(),
    strength: z.number(),
    fromPh: z.number(),
    targetPh: z.number(),
    basis: z.string(),
    closedAt: epochMs.nullable(),
    ending: z.enum(PLAN_ENDINGS).nullable(),
    stages: z.array(
      draftStage.extend({
        entry: entry.nullable().describe('the treatment; null while it lies ahead'),
        hasPhoto: z.boolean(),
        before: measured,
        after: measured,
      }),
    ),
    verdict: z.enum(FOLLOW_VERDICTS),
    measured: interval.nullable().describe('change since the first portion, pH'),
    predicted: interval.nullable().describe('change expected by now, pH'),
    course: course.nullable(),
    points: z
      .object({ time: z.array(epochMs), value: column })
      .nullable()
      .describe('the bed day by day since a month before the first portion'),
    next: z
      .object({
        stage: z.number().int(),
        dueAt: epochMs,
        amountG: z.number(),
        sentence: z.string(),
      })
      .nullable(),
    stop: z.enum(['reached', 'stopped']).nullable(),
    sentence: z.string(),
    causes: z.array(z.string()),
    grounds: z.array(z.string()),
    cautions: z.array(z.object({ text: z.string(), source: sourceView.nullable() })),
  })
  .meta({ id: 'Plan' })
export type PlanView = z.infer<typeof planView>

/** Everything a gardener needs to decide about one bed. */
export const decision = z
  .object({
    bedId: id,
    bed: z.string(),
    at: epochMs,
    need,
    soil: soilInput,
    tests: z.array(soilTestView),
    buffering: buffering.nullable(),
    bufferingMissing: z
      .string()
      .nullable()
      .describe('what would give a buffering; null when known'),
    options: z.array(materialOption),
    running: planView.nullable().describe('the plan that runs; a new one has to wait for its end'),
    past: z.array(planView),
  })
  .meta({ id: 'Decision' })
export type Decision = z.infer<typeof decision>

/** A pH in a query string, in plain decimals. */
const phText = z.preprocess(
  (text) => (typeof text === 'string' && /^\d{1,2}(\.\d{1,2})?$/.test(text) ? Number(text) : text),
  z
    .number(toSay('expected a pH such as 6.4'))
    .min(3, toSay('expected pH 3 or more'))
    .max(9, toSay('expected pH 9 or less')),
)
export const decisionQuery = z.object({
  target: phText
    .optional()
    .describe('where to go, pH, inside the band; left out: just inside the near edge'),
})

export const planInput = z
  .object({
    material: name.describe('slug from the options'),
    strength: z
      .number()
      .positive()
      .max(4)
      .nullable()
      .default(null)
      .describe('g of calcium carbonate 1 g is worth, from the label; null: as usual'),
    target: z.number().min(3).max(9).nullable().default(null),
  })
  .meta({ id: 'PlanForm' })
export type PlanInput = z.input<typeof planInput>

/** Either a plan, or why there can be none. */
export const draftAnswer = z
  .object({ draft: draftView.nullable(), refused: z.array(told) })
  .meta({ id: 'DraftAnswer' })
export type DraftAnswer = z.infer<typeof draftAnswer>

export const stageInput = z
  .object({
    at: epochMs.describe('when it was put on'),
    amountG: z.number().positive().max(1e7).describe('on the whole bed, g'),
    text: z.string().max(2000).default(''),
  })
  .meta({ id: 'StageForm' })
export type StageInput = z.input<typeof stageInput>

export const closeInput = z.object({ ending: z.enum(PLAN_ENDINGS) }).meta({ id: 'PlanClosing' })

const monthDay = z
  .string()
  .regex(
    /^(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$/,
    toSay('expected month and day such as 04-15'),
  )
export const planningSettings = z
  .object({
    season: z.object({ from: monthDay, to: monthDay }).nullable(),
    currency: z
      .string()
      .regex(/^[A-Z]{3}$/, toSay('expected a currency of three capitals such as EUR'))
      .nullable(),
    prices: z.array(z.object({ material: name, perKg: z.number().positive().max(1e6) })).max(50),
  })
  .meta({ id: 'PlanningSettings' })
export type PlanningSettingsView = z.infer<typeof planningSettings>
