import type { Texture } from '../model/bed.ts'
import type { Cited, CitedRange } from './dosing.ts'
import { soilRate } from './soil-rates.ts'

/** A figure the planner goes by, with who says so; 'MEM' is common practice without a source. */
export interface Limit extends Cited {
  readonly value: number
}
const limit = (value: number, source: string, note: string): Limit => ({ value, source, note })

// What has to be known before anything is put on.

export const LEAST_VALID_DAYS = limit(10, 'MEM', 'days of valid pH before a dose; practice')
export const WANTED_VALID_DAYS = limit(
  14,
  'FERRARI',
  'days of valid pH for a comparison with the band; sampling and analysis alone are off by about 0.1',
)
export const CONFIRM_DAYS = limit(
  60,
  'MEM',
  'a slurry or laboratory value no older than this confirms the probes; practice',
)
export const BAND_TOLERANCE_PH = limit(
  0.2,
  'LEITHOLD',
  'repeat samples of one place differ by about 0.25; nearer to the band than this nothing is done',
)
export const AIM_INSIDE_PH = limit(0.2, 'MEM', 'how far inside the near edge of the band to aim')
export const SAMPLE_APART_PH = limit(
  0.5,
  'LEITHOLD',
  'sample and probes further apart than this, after what is usual for the method: no dose',
)
export const FERTILISER_DAYS = limit(
  14,
  'UCFABER',
  'after fertiliser salt lowers the pH in water by 0.5 to 1.5: no decision; the span is practice',
)

// How much at once.

export const PER_APPLICATION_PH = limit(
  0.5,
  'MEM',
  'judgement: no published limit was seen; soil life and the split rules of extension services support it',
)
export const PER_YEAR_PH = limit(1, 'GRASLANDER', 'corrections are spread over years; judgement')
export const HARD_CAP_PH = limit(
  1,
  'MEM',
  'one application may not move the bed further than this even where the soil holds its pH least',
)
export const STAGES_APART_DAYS = limit(30, 'MEM', 'least time between portions of any material')
export const LIME_PORTIONS_APART_DAYS = limit(
  183,
  'PSU_HG',
  'printed: more than 10 lb/100 sq ft goes on in portions six months apart',
)

// What does not go together.

export const OPPOSITE_DAYS = limit(
  180,
  'MEM',
  'lime and sulfur within this time cancel and leave salt; practice',
)
export const LIME_AND_MANURE_DAYS = limit(
  21,
  'MEM',
  'lime within three weeks of manure or ammonium drives ammonia off; practice',
)
export const ACID_LOVING_MOST_PH = limit(
  5.5,
  'MEM',
  'a crop whose band ends here or lower is called acid-loving',
)
export const ASH_BELOW_PH = limit(7, 'ASH1991', 'printed: only where pH is below 7.0')
export const ASH_YEAR_G_M2 = limit(97.6486, 'ASH1991', 'printed: 20 lb/1000 sq ft a year')
export const HYDRATED_SHARE = limit(
  0.74,
  'CLEM_BYPROD',
  'hydrated lime against limestone: 100/135; the cap is half the limestone figure times this',
)

// Free lime.

export const FREE_LIME_PH = limit(
  7.5,
  'UW1151',
  'above this free lime is likely and lowering will hardly work',
)
export const FREE_LIME_SULFUR_G_M2 = limit(
  717,
  'AGVISE_S',
  'printed: each 1 % of carbonate in the top 6 in swallows about 6,400 lb of sulfur an acre before pH falls',
)
export const FREE_LIME_FLOOR_PH = limit(
  7.8,
  'AGVISE_S',
  'printed: 10,000 lb of sulfur an acre over 15 years did not bring a limy soil below this',
)

// Sulfur.

/** Days warmer than this count in full towards the first re-test of sulfur. */
export const SULFUR_WARM_SOIL_C = limit(
  15,
  'WATKINSON1993',
  'the rate is 3.3 times as high at 25 as at 15 degrees',
)
export const SULFUR_ON_LEAVES_MOST_AIR_C = limit(
  23.9,
  'CLEM_ACID',
  'printed: below 75 F of air where it can lie on leaves',
)

// What tests say.

/** g of calcium carbonate that the acid of 1 g of sulfur uses up. */
export const CARBONATE_PER_SULFUR = limit(100.09 / 32.06, 'CALC', 'ratio of formula masses')
/** g/m2 of pure calcium carbonate for each meq/100 g of exchangeable acidity, by the pH aimed at. */
export const ACIDITY_TO_PH_7_G_M2 = limit(
  112.0851,
  'PSU_AGRON',
  'printed: 1000 lb of carbonate an acre for each meq/100 g',
)
export const ACIDITY_TO_PH_6_5_G_M2 = limit(
  94.1515,
  'PSU_AGRON',
  'printed: 840 lb of carbonate an acre for each meq/100 g',
)

// Looking back.

/** Measured change against the predicted one: more than this and everything stops. */
export const OVERSHOOT_RATIO = limit(
  1.5,
  'ERA_PG',
  'an overshoot takes years to undo: half a pH took more than 25 there; the ratio is judgement',
)
/** Nothing by so many times the expected onset: no response. */
export const NO_RESPONSE_ONSETS = limit(2, 'MEM', 'practice')
/** Lime that rain and harvests take out of soil in a year, g/m2 of pure calcium carbonate. */
const LIME_LOSS_G_M2_YEAR: CitedRange = {
  low: 22.5,
  typical: Math.sqrt(22.5 * 85.2),
  high: 85.2,
  source: 'BOLTON1977',
  note: 'printed: 225 to 852 kg/ha a year at two places; the middle is their geometric mean',
}

/**
 * How far the pH of a limed bed sinks by itself in a year, pH; null where the texture has no rates. Field
 * trials saw 0.058 (SCOTT2001) and 0.1 (MASTER2010).
 */
export function declinePerYear(texture: Texture): CitedRange | null {
  const rate = soilRate(texture)
  if (rate === null) return null
  return {
    low: LIME_LOSS_G_M2_YEAR.low / rate.limestone.typical,
    typical: LIME_LOSS_G_M2_YEAR.typical / rate.limestone.typical,
    high: LIME_LOSS_G_M2_YEAR.high / rate.limestone.typical,
    source: 'CALC',
    note: 'lime lost in a year over the lime that moves this texture by one pH',
  }
}
