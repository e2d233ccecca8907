import { DAY } from '../model/clock.ts'
import type { BedFacts } from './bed-facts.ts'

const YEAR_DAYS = 365
/** A week of days smooths the weather out. */
const HALF_WINDOW_DAYS = 3
const FRESH_MS = 4 * DAY
const MOST_SILENT_DAYS = 14

/** Temperature of the bed's soil over the last week, degrees Celsius; null when nothing fresh is known. */
export function soilNowC({ soilC, assessment, at }: BedFacts): number | null {
  const values = soilC.value.subarray(
    firstFrom(soilC.day, at - 8 * DAY),
    firstFrom(soilC.day, at + 1),
  )
  const newest = soilC.day.findLast((day) => day <= at)
  if (values.length > 0 && newest !== undefined && newest > at - FRESH_MS) return mean(values)
  const present = assessment?.temperature
  return present?.status === 'ok' && present.at > at - FRESH_MS ? present.value : null
}

/** Temperature of the bed's soil around the same day in its record a year (or more) earlier; null when not known. */
export function soilAYearBeforeC({ soilC, at }: BedFacts, day: number): number | null {
  for (let years = 1; years <= 3; years++) {
    const middle = day - years * YEAR_DAYS * DAY
    if (middle > at) continue
    const from = firstFrom(soilC.day, middle - (HALF_WINDOW_DAYS + 0.5) * DAY)
    const to = firstFrom(soilC.day, middle + (HALF_WINDOW_DAYS + 0.5) * DAY)
    if (to - from >= HALF_WINDOW_DAYS) return mean(soilC.value.subarray(from, to))
  }
  return null
}

/** Index of the first day at or after a time, in an ascending column. */
function firstFrom(days: Float64Array, time: number): number {
  let low = 0
  let high = days.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (days[middle]! < time) low = middle + 1
    else high = middle
  }
  return low
}

/**
 * When the soil of this bed is expected to be as warm as that again, by what it did a year ago; epoch ms, null where
 * its record does not tell.
 */
export function warmAgainAt(facts: BedFacts, leastC: number): number | null {
  let silent = 0
  for (let ahead = 1; ahead <= YEAR_DAYS; ahead++) {
    const day = facts.at + ahead * DAY
    const then = soilAYearBeforeC(facts, day)
    if (then === null) {
      // Across a short hole the record still tells; across a long one the first warm day may lie inside it.
      if (++silent > MOST_SILENT_DAYS) return null
      continue
    }
    silent = 0
    if (then >= leastC) return day
  }
  return null
}

function mean(values: Float64Array): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}
