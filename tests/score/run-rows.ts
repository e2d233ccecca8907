import { BED_CASES } from './bed-run.ts'
import type { JobResult, Measures, RunPart } from './jobs.ts'
import { quantileOf } from './quantiles.ts'
import { RESPONSE_CASES } from './series.ts'
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

/** What is said of amendments. */
export function responseRows(results: readonly JobResult[]): readonly ScoreRow[] {
  const cases = RESPONSE_CASES.map((one, cell) => ({
    one,
    runs: runsOf(results, 'response', cell),
  }))
  const slow = cases.filter(({ one }) => one.half[0] >= 1000).flatMap(({ runs }) => runs)
  const turned = cases.filter(({ one }) => one.half[0] < 1000)
  const controlled = turned.filter(({ one }) => one.control).flatMap(({ runs }) => runs)
  const alone = turned.filter(({ one }) => !one.control).flatMap(({ runs }) => runs)
  // An error of a ratio: e to the mean error of the logarithm, less one.
  const errors = figures(
    controlled.filter((run) => (run['halvesSeen'] ?? 0) >= 2),
    'halfError',
  ).map((error) => Math.exp(error) - 1)
  const said = figures(slow, 'atLeast')
  const shareRow = (
    name: string,
    values: readonly number[],
    must: Bound | null = null,
    stretch: Bound | null = null,
  ): ScoreRow => row(name, mean(values), values.length, must, stretch)
  const all = cases.flatMap(({ runs }) => runs)
  return [
    row(
      'half-life error, control, 2 half-lives seen, median',
      quantileOf(errors, 0.5),
      errors.length,
      atMost(0.14),
      atMost(0.08),
    ),
    row(
      'half-life error, control, 2 half-lives seen, 90 %',
      quantileOf(errors, 0.9),
      errors.length,
      atMost(0.4),
      atMost(0.22),
    ),
    shareRow(
      'half-life coverage, control',
      figures(controlled, 'halfCovered'),
      atLeast(0.88),
      between(0.93, 0.97),
    ),
    shareRow(
      'half-life coverage, no control',
      figures(alone, 'halfCovered'),
      atLeast(0.85),
      between(0.93, 0.97),
    ),
    shareRow('"at least" said, half 1000-3000 d, 300 d seen', said, atLeast(0.9), atLeast(1)),
    shareRow('"at least" true when said', figures(slow, 'atLeastTrue'), atLeast(0.97), atLeast(1)),
    shareRow('amendments: effect told', figures(all, 'told')),
    shareRow('amendments: highest point covered', figures(all, 'peakCovered')),
    shareRow('amendments: onset covered to 7 d', figures(all, 'onsetCovered')),
    shareRow('amendments: day of highest point covered to 7 d', figures(all, 'peakDayCovered')),
  ]
}
