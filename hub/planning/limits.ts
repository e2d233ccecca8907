import type { Cap, Dosing } from '../agronomy/dosing.ts'
import {
  HARD_CAP_PH,
  PER_APPLICATION_PH,
  PER_YEAR_PH,
  SULFUR_WARM_SOIL_C,
} from '../agronomy/planning-limits.ts'
import type { BedFacts } from './bed-facts.ts'
import { soilAYearBeforeC, soilNowC } from './soil-warmth.ts'
import { DAY } from '../model/clock.ts'

/** How far one portion may move this bed, pH. */
export interface StepLimits {
  /** As far as it is likely. */
  readonly likely: number
  /** Where the soil holds its pH least. */
  readonly worst: number
  /** In a year, as far as it is likely. */
  readonly year: number
}

/** Hydrated lime goes on at half of what else would: it acts at once and overshoots. */
const HYDRATED_PART = 0.5

export function stepLimits(slug: string): StepLimits {
  const part = slug === 'hydrated-lime' ? HYDRATED_PART : 1
  return {
    likely: PER_APPLICATION_PH.value * part,
    worst: HARD_CAP_PH.value * part,
    year: PER_YEAR_PH.value,
  }
}

/** The caps that hold for this bed on a day: where it is not said that it is bare, plants are taken to stand in it. */
export function capsOn(facts: BedFacts, dosing: Dosing, day: number): readonly Cap[] {
  return dosing.caps.filter(
    ({ when }) =>
      when === null ||
      (when === 'standing' && facts.soil.planting !== 'bare') ||
      (when === 'cool' && !isWarm(facts, day)),
  )
}

function isWarm(facts: BedFacts, day: number): boolean {
  const soon = Math.abs(day - facts.at) <= 7 * DAY
  const celsius = soon ? soilNowC(facts) : soilAYearBeforeC(facts, day)
  return celsius !== null && celsius >= SULFUR_WARM_SOIL_C.value
}
