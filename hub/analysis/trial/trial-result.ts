import { DAY } from '../../model/clock.ts'
import { counted, listed } from '../format.ts'
import { arRegression } from '../stats/ar-regression.ts'
import { tQuantile } from '../stats/t-quantile.ts'
import { meanWhere, type TrialBed, type WeekTable, weekTable } from './bed-weeks.ts'
import { type Permutation, permutation } from './permutation.ts'
import { type TrialVerdict, trialSentence } from './trial-words.ts'
import { type TrialClaim, type TrialWindows, trialWindows } from './trial-windows.ts'
import { fQuantile } from '../stats/f-quantile.ts'

export interface TrialResult {
  readonly verdict: TrialVerdict
  /** Difference of differences with its 95 % interval, pH; null while it cannot be worked out. */
  readonly effect: { readonly value: number; readonly low: number; readonly high: number } | null
  /** No measurable effect: none larger than this in the claimed direction, pH. */
  readonly notLargerThan: number | null
  /** Looked at before its planned end. */
  readonly early: boolean
  /** About so many more days are needed; null when it is over. */
  readonly daysLeft: number | null
  readonly windows: TrialWindows
  /** Weeks counted from the start that went in; and those left out, with the reason. */
  readonly weeks: readonly number[]
  readonly excluded: readonly { readonly week: number; readonly reason: string }[]
  /** Change of each bed, after less before, pH; NaN where it has too little. */
  readonly changes: readonly {
    readonly bed: string
    readonly treated: boolean
    readonly change: number
  }[]
  readonly permutation: Permutation | null
  readonly sentence: string
  readonly grounds: readonly string[]
}

const LEAST_BEFORE = 8
const LEAST_AFTER = 2
/** More beds than this share of a side must be there for a week to count. */
const LEAST_BEDS_SHARE = 0.5

/**
 * What a trial came to: change of the treated beds less change of the untreated ones, weekly values, weeks that follow
 * each other not counted as if they were independent. Windows, direction and length come from the claim alone.
 * Before the planned end the effect so far is told but no verdict: who stops at the moment that pleases finds
 * effects that are not there.
 */
export function trialResult(
  treated: readonly TrialBed[],
  untreated: readonly TrialBed[],
  claim: TrialClaim,
  { at, givenUpAt = null }: { readonly at: number; readonly givenUpAt?: number | null },
): TrialResult {
  const windows = trialWindows(claim)
  const until = Math.min(at, givenUpAt ?? Infinity, windows.endsAt)
  const early = until < windows.endsAt
  const leftDays = early ? Math.ceil((windows.endsAt - at) / DAY) : 0
  const daysLeft = leftDays > 0 && givenUpAt === null ? leftDays : null
  const table = weekTable(
    [...treated, ...untreated].map(({ series }) => series),
    { origin: windows.startsAt, from: windows.beforeFrom, to: until },
  )
  const lagWeeks = windows.lagDays / 7
  const isAfter = (column: number): boolean => table.step[column]! >= lagWeeks
  const isBefore = (column: number): boolean => table.step[column]! < 0
  const apart = difference(table, treated.length, lagWeeks, isBefore)
  const changes = [...treated, ...untreated].map(({ name }, i) => ({
    bed: name,
    treated: i < treated.length,
    change: meanWhere(table.rows[i]!, isAfter) - meanWhere(table.rows[i]!, isBefore),
  }))
  const before = apart.step.filter((week) => week < 0).length
  const after = apart.step.length - before
  const base = { early, daysLeft, windows, weeks: Array.from(apart.step), excluded: apart.excluded }
  if (at < windows.startsAt || before < LEAST_BEFORE || after < LEAST_AFTER) {
    const verdict: TrialVerdict =
      at < windows.startsAt ? 'planned' : early && givenUpAt === null ? 'too early' : 'insufficient'
    const have = `${counted(before, 'week')} before and ${counted(after, 'week')} after that both sides share`
    return {
      ...base,
      verdict,
      effect: null,
      notLargerThan: null,
      changes,
      permutation: null,
      sentence: trialSentence(verdict, {
        claim,
        effect: null,
        daysLeft,
        have,
        notLargerThan: null,
      }),
      grounds: [
        `There are ${have}; needed are ${LEAST_BEFORE} before and ${LEAST_AFTER} after, ${windows.lagDays} days from the start left out.`,
      ],
    }
  }
  const step = apart.step.map((week) => (week < 0 ? 0 : 1))
  const fit = arRegression([new Float64Array(step.length).fill(1), step], apart.value, apart.step)
  const value = fit.beta[1]!
  const bySeries = { se: fit.se[1]!, freedom: fit.freedom }
  const byBeds = bedError(changes, bySeries.se, treated.length, untreated.length)
  const { se, freedom } = byBeds ?? bySeries
  const half = tQuantile(0.975, freedom) * se
  const effect = { value, low: value - half, high: value + half }
  const { verdict: found, notLargerThan } = judge(claim, effect)
  const verdict = !early ? found : givenUpAt === null ? 'too early' : 'undecided'
  const changed = permutation(
    changes.filter((one) => one.treated).map(({ change }) => change),
    changes.filter((one) => !one.treated).map(({ change }) => change),
  )
  const told = early ? null : notLargerThan
  return {
    ...base,
    verdict,
    effect,
    notLargerThan: told,
    changes,
    permutation: changed,
    sentence: trialSentence(verdict, {
      claim,
      effect,
      daysLeft,
      have: `${counted(after, 'week')} after`,
      notLargerThan: told,
      ...(givenUpAt !== null && early ? { givenUp: true } : {}),
    }),
    grounds: [
      `${counted(before, 'week')} before against ${counted(after, 'week')} after; the first ${windows.lagDays} days left out; ${counted(apart.excluded.length, 'week')} left out in all.`,
      `Treated less untreated (${listed(treated.map(({ name }) => name))} against ${listed(untreated.map(({ name }) => name))}), each bed against its own level before; correlation of neighbouring weeks ${fit.rho.toFixed(2)}.`,
      ...(byBeds === null
        ? []
        : [
            'Beds treated alike changed more differently than their noise explains: the interval comes from the beds, not from the weeks.',
          ]),
      ...(changed === null
        ? []
        : [
            `Of ${counted(changed.ways, 'way')} to choose the treated beds, ${changed.asLarge} would show a difference as large${changed.ways < 20 ? '; with so few beds chance alone cannot be ruled out this way' : ''}.`,
          ]),
    ],
  }
}

/** Weekly mean of the treated beds less that of the untreated, each bed about its own level before. */
function difference(
  { step, rows }: WeekTable,
  treated: number,
  lagWeeks: number,
  isBefore: (column: number) => boolean,
): {
  readonly step: Float64Array
  readonly value: Float64Array
  readonly excluded: readonly { readonly week: number; readonly reason: string }[]
} {
  const levels = rows.map((row) => meanWhere(row, isBefore))
  const kept: number[] = []
  const value: number[] = []
  const excluded: { week: number; reason: string }[] = []
  for (const [column, week] of step.entries()) {
    const side = (from: number, to: number): number => {
      const there: number[] = []
      for (let i = from; i < to; i++) {
        const apart = rows[i]![column]! - levels[i]!
        if (Number.isFinite(apart)) there.push(apart)
      }
      if (there.length === 0 || there.length < LEAST_BEDS_SHARE * (to - from)) return NaN
      return there.reduce((sum, one) => sum + one, 0) / there.length
    }
    const apart = side(0, treated) - side(treated, rows.length)
    if (week >= 0 && week < lagWeeks) {
      excluded.push({ week, reason: 'the material is only beginning to work' })
    } else if (!Number.isFinite(apart)) {
      excluded.push({ week, reason: 'too few beds of one side have a value' })
    } else {
      kept.push(week)
      value.push(apart)
    }
  }
  return { step: Float64Array.from(kept), value: Float64Array.from(value), excluded }
}

/**
 * Standard error out of how differently beds of one side changed, where that is more than the weekly noise
 * explains (F test at 5 %); null where it is not, or a side has one bed.
 */
function bedError(
  changes: TrialResult['changes'],
  seriesError: number,
  a: number,
  b: number,
): { se: number; freedom: number } | null {
  if (a < 2 || b < 2 || changes.some(({ change }) => !Number.isFinite(change))) return null
  const freedom = a + b - 2
  let square = 0
  for (const treated of [true, false]) {
    const own = changes.filter((one) => one.treated === treated).map(({ change }) => change)
    const mean = own.reduce((sum, change) => sum + change, 0) / own.length
    for (const change of own) square += (change - mean) ** 2
  }
  const se = Math.sqrt((square / freedom) * (1 / a + 1 / b))
  // The weekly error is itself an estimate; thirty degrees stand for it.
  return (se / seriesError) ** 2 > fQuantile(0.95, freedom, 30) ? { se, freedom } : null
}

function judge(
  { direction, leastEffect }: TrialClaim,
  { low, high }: { readonly low: number; readonly high: number },
): { verdict: TrialVerdict; notLargerThan: number | null } {
  const up = low > 0
  const down = high < 0
  if (up || down) {
    const said = direction === 'changes' || direction === (up ? 'raises' : 'lowers')
    return { verdict: said ? 'supported' : 'contradicted', notLargerThan: null }
  }
  const most = direction === 'raises' ? high : direction === 'lowers' ? -low : Math.max(high, -low)
  return most < leastEffect
    ? { verdict: 'no measurable effect', notLargerThan: most }
    : { verdict: 'undecided', notLargerThan: most }
}
