import type { ExtraKind } from '#hub/simulator/bed-events.ts'
import { randomBed, type RandomBed } from '#hub/simulator/random-bed.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { BED_CASES, bedRun } from './bed-run.ts'
import { bedInput } from './bed-input.ts'
import { bedOutcome, type BedOutcome } from './bed-outcome.ts'
import { noiseBed } from './noise-bed.ts'
import { PORTION_CASES, portionRun } from './portion-run.ts'
import { responseRun } from './response-run.ts'
import { reviewRun } from './review-run.ts'
import { ELECTRODE_CASES, RESPONSE_CASES, TREND_CASES } from './series.ts'
import { electrodeRun, FORECAST_CASES, forecastRun, trendRun } from './slow-runs.ts'
import { seedOf, type SeedSet } from './seeds.ts'
import { seenEvents } from './seen-events.ts'

export type BedPart = 'eventful' | 'quiet' | 'further' | 'coarse'
export type RunPart =
  | 'noise'
  | 'trend'
  | 'electrode'
  | 'response'
  | 'bed'
  | 'forecast'
  | 'review'
  | 'portion'

/** A piece of work for one thread: one bed-year, or one run of a series. */
export interface Job {
  readonly part: BedPart | RunPart
  readonly set: SeedSet
  /** Number of spots, for beds; else the number of the case. */
  readonly cell: number
  readonly run: number
}

/** What a job counted; plain data, it crosses threads. */
export type JobResult =
  | { readonly part: BedPart; readonly outcome: BedOutcome }
  | { readonly part: RunPart; readonly cell: number; readonly measures: Measures }

/** Figures of one run; 1 and 0 for yes and no, NaN where the question did not arise. */
export type Measures = Readonly<Record<string, number>>

/** Slow events have a bed to themselves, so that what is told belongs to them. */
const FURTHER: readonly Readonly<Partial<Record<ExtraKind, number>>>[] = [
  { ramp: 2 },
  { treatment: 2 },
  { 'creeping death': 1 },
  { 'hard water': 2, 'cold water': 2, freezing: 2, 'controller fault': 2, 'battery sag': 2 },
]

export function simulatedBed(part: BedPart, seed: number, spots: number, run: number): RandomBed {
  return randomBed(seed, {
    spots,
    withEvents: part === 'eventful',
    extra: part === 'further' ? FURTHER[run % FURTHER.length]! : {},
    ...(part === 'coarse' ? { resolutionPh: 0.1 } : {}),
  })
}

export function runJob({ part, set, cell, run }: Job): JobResult {
  const seed = seedOf(set, part, cell, run)
  switch (part) {
    case 'eventful':
    case 'quiet':
    case 'further':
    case 'coarse': {
      const bed = simulatedBed(part, seed, cell, run)
      return { part, outcome: bedOutcome(bed, seenEvents(bedInput(bed))) }
    }
    case 'noise': {
      const days = 365
      const alarms = seenEvents(bedInput(noiseBed(seed, days))).length
      return { part, cell, measures: { alarms, years: days / 365 } }
    }
    case 'trend':
      return { part, cell, measures: trendRun(seededRandom(seed), TREND_CASES[cell]!) }
    case 'electrode':
      return { part, cell, measures: electrodeRun(seededRandom(seed), ELECTRODE_CASES[cell]!) }
    case 'forecast':
      return { part, cell, measures: forecastRun(seededRandom(seed), FORECAST_CASES[cell]!) }
    case 'response':
      return { part, cell, measures: responseRun(seededRandom(seed), RESPONSE_CASES[cell]!) }
    case 'review':
      return { part, cell, measures: reviewRun(seededRandom(seed), RESPONSE_CASES[cell]!) }
    case 'portion':
      return { part, cell, measures: portionRun(seededRandom(seed), PORTION_CASES[cell]!) }
    case 'bed':
      return { part, cell, measures: bedRun(seededRandom(seed), BED_CASES[cell]!) }
  }
}
