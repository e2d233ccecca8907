import type { Dosing } from '../../agronomy/dosing.ts'
import {
  LIME_PORTIONS_APART_DAYS,
  STAGES_APART_DAYS,
  SULFUR_WARM_SOIL_C,
} from '../../agronomy/planning-limits.ts'
import { DAY } from '../../model/clock.ts'
import type { BedFacts } from '../bed-facts.ts'
import { dayOf, daysAfter, startOf } from '../calendar.ts'
import { nextInSeason, type Season } from '../season.ts'
import { soilAYearBeforeC } from '../soil-warmth.ts'

/** What takes longer than this to its fullest is slow: the next portion comes after its re-test. */
const SLOW_DAYS = 60
/** From the re-test to the next portion, so that there is time to look at it. */
const LOOK_DAYS = 7
const MOST_DAYS = 2 * 365

/**
 * The first day on or after this one that lies in the season, and on which the soil was warm enough a year before where
 * that matters; epoch ms.
 */
export function suitableFrom(
  facts: BedFacts,
  { leastSoilC }: Dosing,
  season: Season,
  at: number,
): number {
  const { zone } = facts
  let day = nextInSeason(season, dayOf(at, zone))
  for (let i = 0; i < MOST_DAYS && leastSoilC !== null; i++) {
    const then = soilAYearBeforeC(facts, startOf(day, zone))
    // The present week is measured, not foretold.
    if (then === null || then >= leastSoilC.value || startOf(day, zone) <= facts.at) break
    day = nextInSeason(season, day.add({ days: 1 }))
  }
  return startOf(day, zone)
}

/** When to measure again after a portion, epoch ms, ascending. */
export function retestsAfter(facts: BedFacts, dosing: Dosing, dueAt: number): readonly number[] {
  const [first, ...rest] = dosing.retests.days
  if (first === undefined) return []
  const firstAt =
    dosing.leastSoilC === null
      ? daysAfter(dueAt, first, facts.zone)
      : afterWarmDays(facts, dueAt, first)
  const later = rest.map((days) => daysAfter(dueAt, days, facts.zone)).filter((at) => at > firstAt)
  return [firstAt, ...later]
}

/** Printed for ground limestone; others by their own wait. */
const PORTIONS_APART: Readonly<Record<string, number>> = {
  'ground-limestone': LIME_PORTIONS_APART_DAYS.value,
  'dolomitic-limestone': LIME_PORTIONS_APART_DAYS.value,
}

/** Least days from one portion of a plan to the next. */
export function portionsApart({ slug, wait }: Dosing): number {
  return Math.max(
    STAGES_APART_DAYS.value,
    wait.days,
    Object.hasOwn(PORTIONS_APART, slug) ? PORTIONS_APART[slug]! : 0,
  )
}

/** The earliest day for the portion after this one, before the season is looked at; epoch ms. */
export function nextStageFrom(
  dosing: Dosing,
  dueAt: number,
  retestsAt: readonly number[],
  zone: string,
): number {
  const apart = daysAfter(dueAt, portionsApart(dosing), zone)
  const retest = retestsAt[0]
  return dosing.peak.typical > SLOW_DAYS && retest !== undefined
    ? Math.max(apart, daysAfter(retest, LOOK_DAYS, zone))
    : apart
}

/** So many days with warm soil after it, by what the bed's soil did a year ago; by the calendar where that is not known. */
function afterWarmDays(facts: BedFacts, dueAt: number, days: number): number {
  let warm = 0
  for (let ahead = 1; ahead <= MOST_DAYS; ahead++) {
    const then = soilAYearBeforeC(facts, dueAt + ahead * DAY)
    if (then === null) return daysAfter(dueAt, days, facts.zone)
    if (then >= SULFUR_WARM_SOIL_C.value) warm++
    if (warm === days) return daysAfter(dueAt, ahead, facts.zone)
  }
  // It never gets warm enough: the calendar it is, and the measuring will tell.
  return daysAfter(dueAt, days, facts.zone)
}
