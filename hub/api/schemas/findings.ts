import { z } from 'zod'
import { SAMPLE_METHODS } from '../../model/journal.ts'
import { CAUSES } from '../../analysis/watch/event.ts'
import { band, column, epochMs, id, wholeText } from './common.ts'

/** Not enough yet, with what is there and what is needed. */
const insufficient = z.object({
  status: z.literal('insufficient'),
  have: z.string(),
  need: z.string(),
})
/** A value with its 95 % interval; an end that is open is null. */
export const interval = z
  .object({ value: z.number().nullable(), low: z.number().nullable(), high: z.number().nullable() })
  .meta({ id: 'Interval' })
export type Interval = z.infer<typeof interval>

/** A change of level with its cause. */
export const eventView = z
  .object({
    id: z.string(),
    form: z.enum(['step', 'ramp']).describe('step: within hours; ramp: over days, up to 30'),
    onset: epochMs,
    noticedAt: epochMs,
    cause: z.enum(CAUSES),
    firstCause: z.enum(CAUSES).describe('what was thought when it was noticed'),
    decidedAt: epochMs.nullable().describe('when the cause was settled; null: still provisional'),
    size: z.number().describe('signed change, pH'),
    halfWidth: z.number().describe('half-width of its 95 % interval'),
    present: z.number().nullable().describe('what is left of the change now, pH; null: not known'),
    state: z.enum(['open', 'recovered', 'kept']).describe('kept: the new level is the normal now'),
    endedAt: epochMs.nullable(),
    spots: z.array(
      z.object({
        spotId: id,
        spot: z.string(),
        probe: z.string(),
        before: z.number().nullable(),
        change: z.number().nullable(),
        moved: z.boolean(),
      }),
    ),
    journalId: id.nullable().describe('journal entry that may explain it'),
    withinPlan: z
      .boolean()
      .nullable()
      .describe('explained by a treatment: whether it stays within one pH unit'),
    otherBeds: z.array(z.string()).describe('beds that moved the same way within a day'),
    sentence: z.string(),
    grounds: z.array(z.string()).describe('why this cause, one fact a line'),
    advice: z.string(),
  })
  .meta({ id: 'BedEvent' })
export type EventView = z.infer<typeof eventView>

/** Slow change of the bed with the season removed. */
export const trendView = z
  .discriminatedUnion('status', [
    z.object({
      status: z.literal('ok'),
      perYear: interval.describe('pH a year'),
      verdict: z.enum(['rising', 'falling', 'steady', 'cannot tell']),
      from: epochMs,
      to: epochMs,
      weeks: z.number().int(),
      seasonSwing: z.number().nullable().describe('highest minus lowest of the learned season, pH'),
      seasonHighestDay: z.number().nullable().describe('day of the year at which it is highest'),
      sentence: z.string(),
      grounds: z.array(z.string()),
    }),
    insufficient.extend({ sentence: z.string(), grounds: z.array(z.string()) }),
  ])
  .meta({ id: 'Trend' })

export const electrodeView = z
  .object({
    probe: z.string(),
    spot: z.string(),
    per30Days: interval.nullable().describe('drift of the electrode, pH per 30 days'),
    verdict: z.enum(['electrode drifts', 'soil drifts', 'both', 'steady', 'cannot tell']),
    sinceCalibrationDays: z.number().nullable(),
    sentence: z.string(),
    grounds: z.array(z.string()),
  })
  .meta({ id: 'ElectrodeDrift' })

/** How long half of an effect stays: known, or only that it is at least so long. */
export const halfLife = z
  .discriminatedUnion('kind', [
    z.object({ kind: z.literal('known'), days: interval, early: z.boolean() }),
    z.object({ kind: z.literal('at least'), days: z.number() }),
    z.object({ kind: z.literal('unknown'), reason: z.string() }),
  ])
  .meta({ id: 'HalfLife' })

/** One answer to what a treatment did. */
export const effectAnswer = z
  .object({
    question: z.enum(['above where it was', 'advantage over untreated']),
    verdict: z.enum(['effect', 'no measurable effect', 'insufficient']),
    controls: z.array(z.string()).describe('names of the untreated beds it was held against'),
    onsetDays: interval.nullable(),
    peakDays: interval.nullable(),
    peak: interval.nullable().describe('pH'),
    present: interval.nullable().describe('pH'),
    halfLife,
    notLargerThan: z
      .number()
      .nullable()
      .describe('no measurable effect: none larger than this, pH'),
    halfBackAt: epochMs.nullable(),
    curve: z
      .object({ time: z.array(epochMs), value: column, low: column, high: column })
      .nullable()
      .describe('the fitted course with its interval: pH above the level before'),
    points: z
      .object({ time: z.array(epochMs), value: column })
      .nullable()
      .describe('weekly values it was fitted to, on the same scale'),
    sentence: z.string(),
    grounds: z.array(z.string()),
  })
  .meta({ id: 'EffectAnswer' })
export type EffectAnswer = z.infer<typeof effectAnswer>

export const effectView = z
  .object({
    journalId: id,
    at: epochMs,
    material: z.string(),
    amountG: z.number().nullable(),
    expected: z.string().describe('what the material is known to do, with its source'),
    answers: z.array(effectAnswer),
  })
  .meta({ id: 'Effect' })
export type EffectView = z.infer<typeof effectView>

export const forecastView = z
  .discriminatedUnion('status', [
    z.object({
      status: z.literal('ok'),
      time: z.array(epochMs),
      q05: column,
      q25: column,
      q50: column,
      q75: column,
      q95: column,
      band: band.nullable(),
      leaves: z
        .object({
          edge: z.enum(['low', 'high']),
          median: epochMs.nullable(),
          earliest: epochMs.nullable(),
          latest: epochMs.nullable(),
        })
        .nullable()
        .describe(
          '80 % interval of when it leaves its band; null: not within the horizon, or out already',
        ),
      chances: z.array(z.object({ days: z.number(), outside: z.number().min(0).max(1) })),
      sentence: z.string(),
    }),
    insufficient.extend({ sentence: z.string() }),
  ])
  .meta({ id: 'Forecast' })

export const inBandView = z
  .discriminatedUnion('status', [
    z.object({
      status: z.literal('ok'),
      from: epochMs,
      to: epochMs,
      share: interval.describe('share of the known days inside, 0 to 1'),
      inside: z.number().describe('days'),
      below: z.number(),
      above: z.number(),
      unknown: z.number(),
      longestOutside: z
        .object({ from: epochMs, to: epochMs, side: z.enum(['below', 'above']) })
        .nullable(),
      sentence: z.string(),
    }),
    insufficient.extend({ sentence: z.string() }),
  ])
  .meta({ id: 'InBand' })

/** Water against what the crops can use without feeling it (FAO-56). */
export const waterView = z
  .object({
    state: z.enum(['ample', 'moist', 'dry', 'waterlogged', 'unknown']),
    since: epochMs.nullable(),
    depletionMm: interval.nullable().describe('water missing to field capacity'),
    readilyAvailableMm: z
      .number()
      .nullable()
      .describe('what may be missing before the crops feel it'),
    refillL: interval.nullable().describe('litres on the whole bed to field capacity'),
    daysUntilDry: interval.nullable(),
    lastWettingAt: epochMs.nullable(),
    sentence: z.string(),
    grounds: z.array(z.string()),
    spots: z.array(
      z.object({
        spotId: id,
        spot: z.string(),
        probe: z.string(),
        available: z.number().nullable().describe('share of the available water'),
        fieldCapacity: z.number().nullable().describe("on the probe's own scale"),
        fieldCapacityFrom: z.string().describe('how it is known'),
      }),
    ),
  })
  .meta({ id: 'Water' })

export const spotsView = z
  .object({
    effective: z.number().nullable().describe('effective number of spots'),
    halfWidth: z.number().nullable().describe('present half-width of the bed value, pH'),
    needed: z.number().int().nullable().describe('spots for +-0.2 pH'),
    outlying: z.object({ spot: z.string(), by: z.number() }).nullable(),
    sentence: z.string(),
  })
  .meta({ id: 'SpotsNeeded' })

/** All that the hub has found out about a bed. */
export const findings = z
  .object({
    bedId: id,
    at: epochMs,
    studiedAt: epochMs.nullable().describe('when the slow questions were last gone through'),
    learning: insufficient.nullable().describe('what the watch for shifts still lacks'),
    noise: z.array(
      z.object({
        probe: z.string(),
        spot: z.string(),
        sd: z.number().nullable().describe('usual hourly deviation, pH'),
        falsePerYear: z
          .number()
          .nullable()
          .describe('false signals to expect a year from noise alone'),
      }),
    ),
    events: z.array(eventView).describe('newest first, of the last 400 days'),
    spots: spotsView,
    trend: trendView,
    electrodes: z.array(electrodeView),
    samples: z
      .array(
        z.object({
          method: z.enum(SAMPLE_METHODS),
          pairs: z.number().int().describe('samples with a bed value beside them'),
          offset: z
            .number()
            .nullable()
            .describe('sample less bed value, pH; null with fewer than three pairs'),
          sentence: z.string(),
        }),
      )
      .describe('samples by hand and from laboratories against the probes, each method for itself'),
    effects: z.array(effectView),
    forecast: forecastView,
    inBand: inBandView,
    water: waterView,
  })
  .meta({ id: 'Findings' })
export type Findings = z.infer<typeof findings>

/** What treatments of one material did, over all beds. */
export const comparison = z
  .object({
    rows: z.array(
      z.object({
        material: z.string(),
        treatments: z.number().int(),
        peak: interval.nullable().describe('pH per treatment'),
        halfLifeDays: interval.nullable(),
        beds: z.array(z.string()),
        sentence: z.string(),
      }),
    ),
    sentence: z.string(),
  })
  .meta({ id: 'Comparison' })
export type Comparison = z.infer<typeof comparison>

export const qualityQuery = z.object({
  days: wholeText(1, 366).default(30).describe('days back from now, 30 when left out'),
})

const flagCounts = {
  pass: z.number().int(),
  suspect: z.number().int(),
  fail: z.number().int(),
  missing: z.number().int(),
  notEvaluated: z.number().int(),
}
/** How the hours of each probe fared in each quality test; flags as in the QARTOD manuals. */
export const bedQuality = z
  .object({
    bedId: id,
    from: epochMs,
    to: epochMs,
    probes: z.array(
      z.object({
        probe: z.string(),
        spot: z.string(),
        hours: z.number().int(),
        ...flagCounts,
        tests: z.array(
          z.object({
            name: z.string(),
            ...flagCounts,
            meaning: z
              .string()
              .nullable()
              .describe('what a failed or doubtful hour has; null: none'),
          }),
        ),
      }),
    ),
  })
  .meta({ id: 'BedQuality' })
export type BedQuality = z.infer<typeof bedQuality>
