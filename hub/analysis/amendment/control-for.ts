import { DAY } from '../../model/clock.ts'
import type { DailySeries } from '../aggregate/daily-series.ts'
import { median } from '../stats/median.ts'
import type { Dose } from './dose-effect.ts'
import { doseGroups } from './dose-groups.ts'
import { dailyDifference, dailyMean, weeklyMedians } from '../aggregate/weekly-medians.ts'
import { counted, listed } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

/** A bed that could be held against a treated one. */
export interface ControlCandidate {
  readonly bedId: number
  readonly bed: string
  readonly series: DailySeries
  /** Its own treatments. */
  readonly doses: readonly Dose[]
}

export type ControlChoice =
  | {
      readonly status: 'ok'
      /** Mean of the beds chosen, on the days all of them have. */
      readonly series: DailySeries
      readonly bedIds: readonly number[]
      readonly beds: readonly string[]
      readonly reason: string
    }
  | { readonly status: 'none'; readonly series: null; readonly reason: string }

const MOST_BEDS = 3
const BEFORE_MS = 90 * DAY
/** Weeks before the dose that both beds must have. */
const LEAST_WEEKS = 8
/** Beds that moved apart more than this from week to week before the dose are no help, pH (median step). */
const MOST_APART_PH = 0.25
/** Share of the days after the dose that a control must have. */
const LEAST_AFTER_SHARE = 0.5

/**
 * Up to three untreated beds to hold a treated one against: none with a treatment of its own that moves pH from 90
 * days before the dose to now, and with a past that moved like that of the treated bed. Those that moved most
 * alike come first; their mean wobbles less than one of them.
 */
export function controlFor(
  treated: DailySeries,
  candidates: readonly ControlCandidate[],
  { doseAt, at }: { doseAt: number; at: number },
): ControlChoice {
  const turnedDown: string[] = []
  const daysAfter = (series: DailySeries): number =>
    series.day.filter((day) => day >= doseAt && day < at).length
  const fit = candidates.flatMap((candidate) => {
    const turnDown = (reason: string): [] => {
      turnedDown.push(`${candidate.bed} ${reason}`)
      return []
    }
    const own = doseGroups(candidate.doses).find(
      (dose) => dose.moves && dose.at >= doseAt - BEFORE_MS && dose.at <= at,
    )
    if (own !== undefined) return turnDown(say`had ${said(own.material)} of its own`)
    const difference = dailyDifference(treated, candidate.series)
    const before = weeklyMedians(difference, {
      origin: doseAt,
      from: doseAt - 2 * BEFORE_MS,
      to: doseAt,
    })
    if (before.value.length < LEAST_WEEKS) {
      return turnDown(say`shares only ${counted(before.value.length, 'week')} before the treatment`)
    }
    if (daysAfter(difference) < LEAST_AFTER_SHARE * daysAfter(treated)) {
      return turnDown(say`has too few days after the treatment`)
    }
    const apart = median(before.value.slice(1).map((v, i) => Math.abs(v - before.value[i]!)))
    if (apart > MOST_APART_PH) return turnDown(say`moved otherwise before the treatment`)
    return [{ candidate, apart }]
  })
  const chosen = fit
    .toSorted((a, b) => a.apart - b.apart || a.candidate.bedId - b.candidate.bedId)
    .slice(0, MOST_BEDS)
    .map(({ candidate }) => candidate)
  if (chosen.length === 0) {
    const reason =
      candidates.length === 0
        ? say`there is no other bed`
        : say`no bed is fit to be held against: ${turnedDown.join('; ')}`
    return { status: 'none', series: null, reason }
  }
  const beds = chosen.map(({ bed }) => bed)
  const left = turnedDown.length > 0 ? ` ${say`Not used: ${turnedDown.join('; ')}.`}` : ''
  return {
    status: 'ok',
    series: dailyMean(chosen.map(({ series }) => series)),
    bedIds: chosen.map(({ bedId }) => bedId),
    beds,
    reason: say`${listed(beds)}: untreated since ${counted(BEFORE_MS / DAY, 'day')} before, and moved alike until then.${left}`,
  }
}
