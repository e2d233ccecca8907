import type { SeasonReportView } from '../../../../hub/api/schemas/review.ts'
import { axisRange, extent } from '../../chart/columns.ts'
import { breakAtSilence } from '../../chart/silence.ts'

/** Where things lie on the paper of a chart: 0 to 100 from the left, 0 to 100 from the top. */
export interface SeasonShape {
  /** The course and its interval as SVG path data; empty without days. */
  readonly line: string
  readonly shade: string
  readonly band: { readonly top: number; readonly bottom: number } | null
  /** Rules of the pH axis, from low to high. */
  readonly rules: readonly { readonly ph: number; readonly y: number }[]
  readonly x: (at: number) => number
  readonly y: (ph: number) => number
}

/** The axis never magnifies less than this, pH. */
const LEAST_SPAN = 1.2
const RULE_STEPS = [0.2, 0.5, 1, 2] as const
const MOST_RULES = 7

const short = (value: number): string => String(Math.round(value * 100) / 100)

/** The shapes of a season's chart: breaks stay breaks, and days without an interval have a line alone. */
export function seasonShape(
  { course, band, from, to }: Pick<SeasonReportView, 'course' | 'band' | 'from' | 'to'>,
  samples: readonly number[] = [],
): SeasonShape {
  const [low, high] = axisRange(
    extent([course.value, course.low, course.high, [...samples]]),
    band,
    LEAST_SPAN,
  )
  const x = (at: number): number => (100 * (at - from)) / (to - from)
  const y = (ph: number): number => (100 * (high - ph)) / (high - low)
  const [time, value = [], below = [], above = []] = breakAtSilence(course.time, [
    course.value,
    course.low,
    course.high,
  ])
  const point = (i: number, column: readonly (number | null)[]): string =>
    `${short(x(time[i] ?? 0))} ${short(y(column[i] ?? 0))}`
  const line = runs(value)
    // A day on its own is a dot: a line of no length with a round end.
    .map((run) => `M${run.map((i) => point(i, value)).join('L')}${run.length === 1 ? 'h0' : ''}`)
    .join('')
  const both = below.map((end, i) => (end === null || above[i] === null ? null : end))
  const shade = runs(both)
    .map((run) => {
      const back = run.toReversed().map((i) => point(i, below))
      return `M${[...run.map((i) => point(i, above)), ...back].join('L')}Z`
    })
    .join('')
  const step = RULE_STEPS.find((size) => (high - low) / size <= MOST_RULES) ?? 5
  const rules: { ph: number; y: number }[] = []
  for (let n = Math.ceil(low / step); n * step <= high; n++) {
    rules.push({ ph: n * step, y: y(n * step) })
  }
  return {
    line,
    shade,
    band: band === null ? null : { top: y(band.high), bottom: y(band.low) },
    rules,
    x,
    y,
  }
}

/** Rows of every stretch without a break. */
function runs(column: readonly (number | null)[]): number[][] {
  const found: number[][] = []
  let open: number[] = []
  column.forEach((value, i) => {
    if (value === null) open = []
    else if (open.length === 0) found.push((open = [i]))
    else open.push(i)
  })
  return found
}
