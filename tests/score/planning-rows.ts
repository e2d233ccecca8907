import type { JobResult, Measures } from './jobs.ts'
import { PORTION_CASES } from './portion-run.ts'
import { quantileOf } from './quantiles.ts'
import { figures, mean, row, runsOf } from './run-rows.ts'
import { atLeast, atMost, type Bound, type ScoreRow } from './score-row.ts'
import { RESPONSE_CASES } from './series.ts'

/** Of what is told to hold 90 or 95 %. */
const HOLDS = atLeast(0.9)

/** What the review tells of treatments, and what is learned from the first portion of a plan. */
export function planningRows(results: readonly JobResult[]): readonly ScoreRow[] {
  const reviews = RESPONSE_CASES.flatMap((_, cell) => runsOf(results, 'review', cell))
  const portions = PORTION_CASES.map((one, cell) => ({
    ...one,
    runs: runsOf(results, 'portion', cell),
  }))
  const all = portions.flatMap(({ runs }) => runs)
  return [
    coverage('review: half-life covered', reviews, 'halfCovered', HOLDS),
    coverage('review: pH months covered', reviews, 'monthsCovered', HOLDS),
    row(
      'review: pH months, error, median',
      quantileOf(figures(reviews, 'monthsError'), 0.5),
      reviews.length,
      atMost(0.15),
      atMost(0.08),
    ),
    coverage('review: a true effect is said to have worked', reviews, 'worked'),
    coverage(
      'plan: change since a portion covered, beside an untreated bed',
      all,
      'heldCovered',
      HOLDS,
    ),
    coverage('plan: change since a portion covered, alone', all, 'aloneCovered', HOLDS),
    row(
      '  half-width beside an untreated bed, pH',
      quantileOf(figures(all, 'heldWidth'), 0.5),
      figures(all, 'heldWidth').length,
    ),
    row(
      '  half-width alone, pH',
      quantileOf(figures(all, 'aloneWidth'), 0.5),
      figures(all, 'aloneWidth').length,
    ),
    ...portions.flatMap(({ name, runs }) => [
      coverage(`second portion, ${name}: range holds what it does`, runs, 'nextCovered', HOLDS),
      coverage(`  how strongly it answers, ${name}: covered`, runs, 'answerCovered', HOLDS),
      coverage(`  stopped, ${name}`, runs, 'stopped'),
    ]),
    coverage('second portion: range holds what it does', all, 'nextCovered', HOLDS),
    coverage('second portion: larger than planned', all, 'nextLarger', atMost(0)),
  ]
}

function coverage(
  name: string,
  runs: readonly Measures[],
  of: string,
  must: Bound | null = null,
): ScoreRow {
  const values = figures(runs, of)
  const stretch = must === HOLDS ? atLeast(0.94) : null
  return row(name, mean(values), values.length, must, stretch)
}
