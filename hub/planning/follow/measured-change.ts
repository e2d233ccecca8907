import type { DailySeries } from '../../analysis/aggregate/daily-series.ts'
import { dailyDifference } from '../../analysis/aggregate/weekly-medians.ts'
import { listed } from '../../analysis/format.ts'
import { DAY } from '../../model/clock.ts'
import type { BedFacts } from '../bed-facts.ts'
import { type Level, levelBetween } from './level-between.ts'

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
/** What calibrations and electrodes move between two levels of one bed, pH; judgement. */
const ELECTRODE_SE = 0.05
/** What a season moves an untreated bed, pH: half of a yearly range of about 0.15 (Raupach 1951). */
const SEASON_SE = 0.075
/** 95 % of a normal error. */
const Z95 = 1.96

/** Why nothing can be said, or the change. */
export type ChangeSince = MeasuredChange | { readonly missing: string }

/** The bed's newest days against the month before `since`; against untreated beds where there are any. */
export function measuredChange({ bed, study, at }: BedFacts, since: number): ChangeSince {
  if (study === null) return { missing: `${bed.name} has not been gone through yet.` }
  const { control } = study
  if (control?.status === 'ok') {
    const apart = changeOf(dailyDifference(study.days.bed, control.series), since, at)
    if ('value' in apart) {
      return intervalOf(
        apart.value,
        Math.hypot(apart.se, ELECTRODE_SE),
        `Held against ${listed(control.beds)}, which had nothing: what the season did to all of them drops out.`,
      )
    }
  }
  const alone = changeOf(study.days.bed, since, at)
  if (!('value' in alone)) return { missing: missingWords(bed.name, alone.missing) }
  return intervalOf(
    alone.value,
    Math.hypot(alone.se, ELECTRODE_SE, SEASON_SE),
    'Held against the month before the first portion; no untreated bed is alike enough, so a part of it may be the season.',
  )
}

function changeOf(
  series: DailySeries,
  since: number,
  at: number,
): { readonly value: number; readonly se: number } | { readonly missing: 'before' | 'after' } {
  const before = levelBetween(series, since - BEFORE_DAYS * DAY - DAY, since - DAY / 2, {
    least: LEAST_DAYS,
  })
  if (before === null) return { missing: 'before' }
  const now = newestLevel(series, since + DAY / 2, at)
  if (now === null) return { missing: 'after' }
  return { value: now.value - before.value, se: Math.hypot(before.se, now.se) }
}

/** Level of the newest fortnight that is not older than twice that. */
export function newestLevel(series: DailySeries, after: number, at: number): Level | null {
  const from = Math.max(after, at - 2 * NEWEST_DAYS * DAY)
  return levelBetween(series, from, at + 1, { least: LEAST_DAYS, most: NEWEST_DAYS })
}

function missingWords(bed: string, what: 'before' | 'after'): string {
  return what === 'before'
    ? `${bed} has too few valid days before the first portion: nothing can be held against them.`
    : `${bed} has too few valid days since the first portion; ${LEAST_DAYS} are needed.`
}

function intervalOf(value: number, se: number, against: string): MeasuredChange {
  return { value, se, low: value - Z95 * se, high: value + Z95 * se, against }
}
