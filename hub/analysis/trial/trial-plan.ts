import { DAY } from '../../model/clock.ts'
import type { Insufficient } from '../assessment.ts'
import { counted } from '../format.ts'
import { type TrialBed, weekTable } from './bed-weeks.ts'
import { contrastError, powerFactor } from './contrast-error.ts'
import { type OwnNoise, ownNoise } from './own-noise.ts'
import { type TrialClaim, trialWindows } from './trial-windows.ts'

/** What the named beds can show. */
export interface TrialPlan {
  readonly status: 'ok'
  /** Length with which the stated effect would be seen; null: not within three years. */
  readonly daysNeeded: number | null
  /** Beds on each side for the planned length; null: more than 20. */
  readonly bedsNeeded: number | null
  /** Spots in each bed for the planned length; null: not by spots alone, or not known. */
  readonly spotsNeeded: number | null
  /** Smallest effect that would be seen, pH, with these beds. */
  readonly detectable: readonly { readonly days: number; readonly effect: number }[]
  readonly arithmetic: TrialArithmetic
  readonly sentence: string
  readonly grounds: readonly string[]
}

/** Every number behind the plan for the planned length. */
export interface TrialArithmetic {
  readonly noise: OwnNoise
  /** Variance of a spot's weekly value about its bed, pH squared; null where no bed has two spots. */
  readonly spotVariance: number | null
  /** Variance that more spots cannot lessen. */
  readonly bedVariance: number
  readonly spotsNow: number
  readonly weeksBefore: number
  readonly weeksAfter: number
  readonly lagDays: number
  /** Standard error of the difference of differences, pH, and what it is multiplied by. */
  readonly standardError: number
  readonly freedom: number
  readonly factor: number
  readonly effect: number
}

const LENGTHS = [30, 60, 90, 120, 180, 270, 365] as const
const LEAST_AFTER_WEEKS = 2
const MOST_DAYS = 1095
const MOST_BEDS = 20
const MOST_SPOTS = 20
const LEAST_WEEKS = 8

/**
 * How long, how many beds and how many spots a trial needs to see the stated effect with 80 % power at 95 %:
 * weekly difference of differences whose noise is that of the beds' own past.
 *
 * @param options.at now, epoch ms: what came later is not looked at
 */
export function trialPlan(
  treated: readonly TrialBed[],
  untreated: readonly TrialBed[],
  claim: TrialClaim,
  { at }: { readonly at: number },
): TrialPlan | Insufficient {
  const windows = trialWindows(claim)
  const before = Math.min(windows.startsAt, at)
  const span = { origin: windows.startsAt, from: windows.beforeFrom, to: before }
  const beds = [...treated, ...untreated]
  const table = weekTable(
    beds.map(({ series }) => series),
    span,
  )
  const noise = ownNoise(table)
  if (noise === null || treated.length === 0 || untreated.length === 0) {
    const have = table.step.filter((_, i) => table.rows.every((row) => Number.isFinite(row[i]!)))
    return {
      status: 'insufficient',
      have: `${counted(have.length, 'week')} that all beds share before it starts`,
      need: `${LEAST_WEEKS} weeks of pH from every bed, treated and untreated`,
    }
  }
  const spots = spotNoise(beds, span)
  const spotVariance = spots?.variance ?? null
  const spotsNow = spots?.spots ?? 1
  const bedVariance = Math.max(0, noise.variance - (spotVariance ?? 0) / spotsNow)
  const pause = Math.max(0, Math.floor((windows.startsAt - at) / DAY / 7))
  // A trial that is still ahead has the weeks until then as well.
  const weeksBefore = Math.min(52, noise.weeks + pause)

  const look = (days: number, variance: number, a: number, b: number) => {
    const { lagDays } = trialWindows({ ...claim, days })
    const weeksAfter = Math.floor((days - lagDays) / 7)
    if (weeksAfter < LEAST_AFTER_WEEKS) return null
    const step = Float64Array.from({ length: weeksBefore + weeksAfter }, (_, i) =>
      i < weeksBefore ? i - weeksBefore : i - weeksBefore + lagDays / 7,
    )
    const { unit, freedom } = contrastError(step, noise.rho)
    const standardError = unit * Math.sqrt(variance * (1 / a + 1 / b))
    const factor = powerFactor(freedom)
    const effect = factor * standardError
    return { weeksAfter, lagDays, standardError, freedom, factor, effect }
  }
  const [a, b] = [treated.length, untreated.length]
  const effectOf = (days: number, variance = noise.variance, x = a, y = b): number =>
    look(days, variance, x, y)?.effect ?? Infinity
  const planned = look(claim.days, noise.variance, a, b)
  if (planned === null) {
    return {
      status: 'insufficient',
      have: `${claim.days} days`,
      need: 'at least two weeks after the material has begun to work',
    }
  }
  let daysNeeded: number | null = null
  for (let days = 21; days <= MOST_DAYS && daysNeeded === null; days += 7) {
    if (effectOf(days) <= claim.leastEffect) daysNeeded = days
  }
  const upTo = (most: number, enough: (n: number) => boolean): number | null => {
    for (let n = 1; n <= most; n++) if (enough(n)) return n
    return null
  }
  const bedsNeeded = upTo(
    MOST_BEDS,
    (n) => effectOf(claim.days, noise.variance, n, n) <= claim.leastEffect,
  )
  const spotsNeeded =
    spotVariance === null
      ? null
      : upTo(
          MOST_SPOTS,
          (n) => effectOf(claim.days, bedVariance + spotVariance / n) <= claim.leastEffect,
        )
  const least = claim.leastEffect.toFixed(2)
  const can = planned.effect <= claim.leastEffect
  const instead = [
    daysNeeded === null ? '' : `${daysNeeded} days`,
    bedsNeeded === null ? '' : `${counted(bedsNeeded, 'bed')} on each side`,
    spotsNeeded === null ? '' : `${counted(spotsNeeded, 'spot')} in each bed`,
  ].filter((part) => part !== '')
  return {
    status: 'ok',
    daysNeeded,
    bedsNeeded,
    spotsNeeded,
    detectable: LENGTHS.map((days) => ({ days, effect: effectOf(days) })).filter(({ effect }) =>
      Number.isFinite(effect),
    ),
    arithmetic: { noise, spotVariance, bedVariance, spotsNow, weeksBefore, ...planned },
    sentence: can
      ? `In ${claim.days} days these beds would show a change of ${least} pH in at least four of five trials.`
      : `In ${claim.days} days these beds would show ${planned.effect.toFixed(2)} pH at best, not ${least}. ${
          instead.length === 0
            ? 'Three years would not do it either: take more beds and more spots, or look for a larger change.'
            : `It would take ${instead.join(', or ')}.`
        }`,
    grounds: [
      `A bed's own week-to-week noise is ${Math.sqrt(noise.variance).toFixed(3)} pH, correlation of neighbouring weeks ${noise.rho.toFixed(2)}, from ${noise.weeks} weeks that all beds share.`,
      `${counted(a, 'treated bed')}, ${counted(b, 'untreated bed')}: ${weeksBefore} weeks before against ${planned.weeksAfter} weeks after, ${planned.lagDays} days between left out while the material begins to work.`,
      `Standard error of the difference of differences ${planned.standardError.toFixed(3)} pH; times ${planned.factor.toFixed(2)} for 80 % power at 95 % is ${planned.effect.toFixed(2)} pH.`,
      spotVariance === null
        ? 'No bed has two spots with a shared past: what more spots would help is not known.'
        : `Of a bed's variance, ${Math.round((100 * Math.min(noise.variance, spotVariance / spotsNow)) / Math.max(noise.variance, 1e-12))} % comes from its spots.`,
    ],
  }
}

/** How spots wander about their bed, pooled over the beds that have at least two; and spots a bed, on average. */
function spotNoise(
  beds: readonly TrialBed[],
  span: { origin: number; from: number; to: number },
): { variance: number; spots: number } | null {
  let sum = 0
  let weight = 0
  let inverse = 0
  for (const { spots = [] } of beds) {
    inverse += 1 / Math.max(1, spots.length)
    const noise = ownNoise(weekTable(spots, span))
    if (noise === null) continue
    sum += noise.variance * (spots.length - 1)
    weight += spots.length - 1
  }
  // Harmonic mean: variances add up as 1 / spots.
  return weight === 0 ? null : { variance: sum / weight, spots: beds.length / inverse }
}
