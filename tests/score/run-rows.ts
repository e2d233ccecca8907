import { BED_CASES } from './bed-run.ts'
import type { JobResult, Measures, RunPart } from './jobs.ts'
import { quantileOf } from './quantiles.ts'
import { atLeast, atMost, between, type Bound, type ScoreRow } from './score-row.ts'

/** Runs of one part and case. */
function runsOf(results: readonly JobResult[], part: RunPart, cell: number): Measures[] {
  return results.flatMap((result) =>
    result.part === part && 'measures' in result && result.cell === cell ? [result.measures] : [],
  )
}

/** One figure of all runs in which it was asked for. */
const figures = (runs: readonly Measures[], name: string): number[] =>
  runs.map((run) => run[name] ?? NaN).filter((value) => !Number.isNaN(value))

const mean = (values: readonly number[]): number =>
  values.length === 0 ? NaN : values.reduce((sum, value) => sum + value, 0) / values.length

function row(
  name: string,
  value: number,
  cases: number,
  must: Bound | null = null,
  stretch: Bound | null = null,
): ScoreRow {
  return { name, value, cases, must, stretch }
}

export function noiseRows(results: readonly JobResult[]): readonly ScoreRow[] {
  const runs = runsOf(results, 'noise', 1)
  const rate = mean(figures(runs, 'alarms')) / mean(figures(runs, 'years'))
  return [row('noise alone: alarms per spot-year', rate, runs.length, atMost(0.2), atMost(0.05))]
}

export function bedRows(results: readonly JobResult[]): readonly ScoreRow[] {
  return BED_CASES.flatMap(({ name, faulty }, cell) => {
    const runs = runsOf(results, 'bed', cell)
    const covered = mean(figures(runs, 'covered'))
    const must = atLeast(faulty ? 0.92 : 0.94)
    const stretch = faulty ? atLeast(0.95) : between(0.94, 0.96)
    // No target was set for one spot alone, nor for four of which one is faulty.
    const asked = name !== '1 spot' && name !== '4 spots, one faulty'
    return [
      row(
        `bed value, ${name}: coverage`,
        covered,
        runs.length,
        asked ? must : null,
        asked ? stretch : null,
      ),
      row(
        `bed value, ${name}: half-width, pH`,
        quantileOf(figures(runs, 'halfWidth'), 0.5),
        runs.length,
      ),
    ]
  })
}
