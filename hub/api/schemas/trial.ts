import { z } from 'zod'
import { CLAIM_DIRECTIONS } from '../../model/trial.ts'
import { epochMs, id, name } from './common.ts'
import { interval } from './findings.ts'
import { toSay } from '../../words/say.ts'

/** A claim to be put to the test. */
export const trialInput = z
  .object({
    claim: z
      .string()
      .trim()
      .min(1, toSay('say what is claimed'))
      .max(300)
      .regex(/^\P{C}*$/u, toSay('expected one line without control characters')),
    direction: z.enum(CLAIM_DIRECTIONS),
    material: name,
    leastEffect: z
      .number()
      .min(0.05, toSay('expected at least 0.05 pH: less cannot be seen in a garden'))
      .max(3, toSay('expected at most 3 pH'))
      .describe('smallest change that would matter, pH'),
    treated: z.array(id).min(1, toSay('name at least one treated bed')).max(40),
    untreated: z.array(id).min(1, toSay('name at least one untreated bed')).max(40),
    startsAt: epochMs.describe('when it is put on'),
    days: z
      .number()
      .int()
      .min(14, toSay('expected at least 14 days'))
      .max(1100, toSay('expected at most 1100 days'))
      .describe('how long it runs'),
  })
  .refine((t) => t.treated.every((bed) => !t.untreated.includes(bed)), {
    path: ['untreated'],
    message: toSay('a bed cannot be treated and untreated at once'),
  })
  .meta({ id: 'TrialForm' })
export type TrialInput = z.infer<typeof trialInput>

/** What the present layout can show. */
export const trialPlan = z
  .object({
    status: z.enum(['ok', 'insufficient']),
    /** With the named beds, for the stated effect. */
    daysNeeded: z.number().nullable().describe('null: not within three years'),
    bedsNeeded: z.number().int().nullable().describe('beds a side for the planned length'),
    spotsNeeded: z.number().int().nullable().describe('spots a bed'),
    detectable: z.array(z.object({ days: z.number(), effect: z.number() })),
    sentence: z.string(),
    grounds: z.array(z.string()),
  })
  .meta({ id: 'TrialPlan' })
export type TrialPlan = z.infer<typeof trialPlan>

export const trialResult = z
  .object({
    verdict: z.enum([
      'planned',
      'too early',
      'supported',
      'contradicted',
      'no measurable effect',
      'undecided',
      'insufficient',
    ]),
    effect: interval.nullable().describe('difference of differences, pH'),
    notLargerThan: z.number().nullable(),
    early: z.boolean().describe('looked at before its planned end'),
    sentence: z.string(),
    grounds: z.array(z.string()),
  })
  .meta({ id: 'TrialResult' })

export const trial = z
  .object({
    id,
    claim: z.string(),
    direction: z.enum(CLAIM_DIRECTIONS),
    material: z.string(),
    leastEffect: z.number(),
    treated: z.array(z.object({ id, name: z.string() })),
    untreated: z.array(z.object({ id, name: z.string() })),
    startsAt: epochMs,
    endsAt: epochMs,
    givenUpAt: epochMs.nullable(),
    plan: trialPlan,
    result: trialResult,
  })
  .meta({ id: 'Trial' })
export type Trial = z.infer<typeof trial>
