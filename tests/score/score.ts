import { BED_CASES } from './bed-run.ts'
import type { BedOutcome } from './bed-outcome.ts'
import type { BedPart, Job } from './jobs.ts'
import { planningRows } from './planning-rows.ts'
import { PORTION_CASES } from './portion-run.ts'
import { runJobs } from './run-jobs.ts'
import {
  bedRows,
  electrodeRows,
  forecastRows,
  noiseRows,
  responseRows,
  trendRows,
} from './run-rows.ts'
import type { ScoreRow } from './score-row.ts'
import { ELECTRODE_CASES, RESPONSE_CASES, TREND_CASES } from './series.ts'
import { FORECAST_CASES } from './slow-runs.ts'
import type { SeedSet } from './seeds.ts'
import { coarseRows, furtherRows, watchRows } from './watch-rows.ts'

/** What can be scored on its own. */
export const SCORED = [
  'watch',
  'noise',
  'trend',
  'electrode',
  'response',
  'bed',
  'forecast',
  'planning',
  'further',
] as const
export type Scored = (typeof SCORED)[number]

export interface ScoreOptions {
  readonly parts: readonly Scored[]
  readonly set: SeedSet
  /** Bed-years for each number of spots, of eventful and of quiet beds each; series in proportion. */
  readonly years: number
  /** Threads that share the work; 0: none beside this one. */
  readonly threads: number
  readonly onProgress?: (done: number, of: number) => void
}

export interface Score {
  readonly rows: readonly ScoreRow[]
  readonly eventful: readonly BedOutcome[]
  readonly quiet: readonly BedOutcome[]
  readonly further: readonly BedOutcome[]
}

const SPOTS = [4, 3, 2, 1] as const

export async function score(options: ScoreOptions): Promise<Score> {
  const { parts, set, years, threads, onProgress } = options
  const jobs: Job[] = []
  const add = (part: Job['part'], cells: readonly number[], runs: number): void => {
    for (let run = 0; run < runs; run++)
      for (const cell of cells) jobs.push({ part, set, cell, run })
  }
  if (parts.includes('watch')) {
    add('eventful', SPOTS, years)
    add('quiet', SPOTS, years)
  }
  if (parts.includes('further')) {
    add('further', [4, 3], years)
    add('coarse', [3], Math.ceil(years / 2))
  }
  if (parts.includes('noise')) add('noise', [1], 2 * years)
  if (parts.includes('trend')) add('trend', [...TREND_CASES.keys()], 10 * years)
  if (parts.includes('electrode')) add('electrode', [...ELECTRODE_CASES.keys()], 10 * years)
  if (parts.includes('forecast')) add('forecast', [...FORECAST_CASES.keys()], 4 * years)
  if (parts.includes('response')) add('response', [...RESPONSE_CASES.keys()], 4 * years)
  if (parts.includes('planning')) {
    add('review', [...RESPONSE_CASES.keys()], 2 * years)
    add('portion', [...PORTION_CASES.keys()], 5 * years)
  }
  if (parts.includes('bed')) add('bed', [...BED_CASES.keys()], 100 * years)
  const results = await runJobs(jobs, threads, (done) => onProgress?.(done, jobs.length))

  const beds = (part: BedPart): BedOutcome[] =>
    results.flatMap((result) =>
      result.part === part && 'outcome' in result ? [result.outcome] : [],
    )
  const eventful = beds('eventful')
  const quiet = beds('quiet')
  const further = beds('further')
  const rows: ScoreRow[] = []
  if (parts.includes('watch')) rows.push(...watchRows(eventful, quiet))
  if (parts.includes('noise')) rows.push(...noiseRows(results))
  if (parts.includes('trend')) rows.push(...trendRows(results))
  if (parts.includes('electrode')) rows.push(...electrodeRows(results))
  if (parts.includes('response')) rows.push(...responseRows(results))
  if (parts.includes('bed')) rows.push(...bedRows(results))
  if (parts.includes('forecast')) rows.push(...forecastRows(results))
  if (parts.includes('planning')) rows.push(...planningRows(results))
  if (parts.includes('further')) rows.push(...furtherRows(further), ...coarseRows(beds('coarse')))
  return { rows, eventful, quiet, further }
}
