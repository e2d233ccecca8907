import type { DailySeries } from '../../analysis/aggregate/daily-series.ts'
import { dailyDifference, WEEK, weeklyMedians } from '../../analysis/aggregate/weekly-medians.ts'
import { seasonOf } from '../../analysis/forecast/season-of.ts'
import { DAY } from '../../model/clock.ts'
import type { BedFacts } from '../bed-facts.ts'
import { wentOn } from '../went-on.ts'
import { type Level, levelBetween } from './level-between.ts'
import { listed } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** Change of a bed since a moment, with the ends of its 95 % interval, pH. */
export interface MeasuredChange {
  readonly value: number
  readonly low: number
  readonly high: number
  readonly se: number
  /** What it was held against, in a sentence. */
  readonly against: string
}

/** Days before the first portion, and newest days, that make a level. */
const BEFORE_DAYS = 30
const NEWEST_DAYS = 14
export const LEAST_DAYS = 7
/** What calibrations and electrodes of one bed move between two levels of it, pH; judgement. */
const ELECTRODE_SE = 0.04
/**
 * Half the yearly swing of a bed whose season is not known yet, pH: published swings are 0.15 (RAUPACH1951) to 0.8
 * (COLLINS1970) from highest to lowest.
 */
const UNKNOWN_SEASON = 0.15
const YEAR_MS = 365.25 * DAY
/** 95 % of a normal error. */
const Z95 = 1.96

/** Why nothing can be said, or the change. */
export type ChangeSince = MeasuredChange | { readonly missing: string }

/** The bed's newest days against the month before `since`; against untreated beds where there are any. */
export function measuredChange(facts: BedFacts, since: number): ChangeSince {
  const { bed, study, at } = facts
  if (study === null) return { missing: say`${bed.name} has not been gone through yet.` }
  const { control } = study
  if (control?.status === 'ok') {
    const apart = changeOf(dailyDifference(study.days.bed, control.series), since, at)
    if ('value' in apart) {
      return intervalOf(
        apart.value,
        Math.hypot(apart.se, ELECTRODE_SE, ELECTRODE_SE),
        say`Held against ${listed(control.beds)}, which had nothing: what the season did to all of them drops out.`,
      )
    }
  }
  const alone = changeOf(study.days.bed, since, at)
  if (!('value' in alone)) return { missing: missingWords(bed.name, alone.missing) }
  const season = seasonBetween(facts, since, alone.from, alone.to)
  return intervalOf(
    alone.value - season.change,
    Math.hypot(alone.se, ELECTRODE_SE, season.se),
    season.known
      ? say`Held against the month before the first portion, with the season of this bed taken out; no untreated bed is alike enough, so a part of it may be the season.`
      : say`Held against the month before the first portion; no untreated bed is alike enough, so a part of it may be the season.`,
  )
}

/** What the season alone did between two moments, pH: by the bed's own years before, where nothing was put on in them. */
function seasonBetween(
  facts: BedFacts,
  since: number,
  from: number,
  to: number,
): { readonly change: number; readonly se: number; readonly known: boolean } {
  const weekly = weeklyMedians(facts.study!.days.bed, { to: since })
  const treated = wentOn(facts).some((dose) => dose.at < since)
  const season = treated ? null : seasonOf(weekly, new Int32Array(weekly.step.length))
  if (season?.known !== true) {
    // How far a wave of unknown phase has gone by then; after a whole year it is back.
    const turn = (2 * Math.PI * (to - from)) / YEAR_MS
    return { change: 0, se: UNKNOWN_SEASON * Math.sqrt(1 - Math.cos(turn)), known: false }
  }
  return {
    change: season.at(to) - season.at(from),
    se: Math.sqrt(2 * season.variance((to - from) / WEEK)),
    known: true,
  }
}

interface Apart {
  readonly value: number
  readonly se: number
  /** Middle of the days before and of the newest, epoch ms. */
  readonly from: number
  readonly to: number
}

function changeOf(
  series: DailySeries,
  since: number,
  at: number,
): Apart | { readonly missing: 'before' | 'after' } {
  const before = levelBetween(series, since - BEFORE_DAYS * DAY - DAY, since - DAY / 2, {
    least: LEAST_DAYS,
  })
  if (before === null) return { missing: 'before' }
  const now = newestLevel(series, since + DAY / 2, at)
  if (now === null) return { missing: 'after' }
  return {
    value: now.value - before.value,
    se: Math.hypot(before.se, now.se),
    from: before.at,
    to: now.at,
  }
}

/** Level of the newest fortnight that is not older than twice that. */
export function newestLevel(series: DailySeries, after: number, at: number): Level | null {
  const from = Math.max(after, at - 2 * NEWEST_DAYS * DAY)
  return levelBetween(series, from, at + 1, { least: LEAST_DAYS, most: NEWEST_DAYS })
}

function missingWords(bed: string, what: 'before' | 'after'): string {
  return what === 'before'
    ? say`${bed} has too few valid days before the first portion: nothing can be held against them.`
    : say`${bed} has too few valid days since the first portion; ${LEAST_DAYS} are needed.`
}

function intervalOf(value: number, se: number, against: string): MeasuredChange {
  return { value, se, low: value - Z95 * se, high: value + Z95 * se, against }
}
