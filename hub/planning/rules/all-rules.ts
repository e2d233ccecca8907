import { aluminum } from './aluminum.ts'
import { ash } from './ash.ts'
import { doseKnown } from './dose-known.ts'
import { freeLime } from './free-lime.ts'
import { hydratedLime } from './hydrated-lime.ts'
import { inPortions } from './in-portions.ts'
import { knownFirst } from './known-first.ts'
import { magnesium } from './magnesium.ts'
import { manure } from './manure.ts'
import { noMeans } from './no-means.ts'
import { opposite } from './opposite.ts'
import { rightWay } from './right-way.ts'
import type { Rule } from './rule.ts'
import { sameWayAgain } from './same-way-again.ts'
import { soilWeather } from './soil-weather.ts'
import { standingPlants } from './standing-plants.ts'

/** Where one of these speaks, the material is no means for this bed, and the others keep silent. */
export const POINTLESS: readonly Rule[] = [noMeans, rightWay]

/** Every rule else a material is held against, in the order in which they are told within one gravity. */
export const RULES: readonly Rule[] = [
  freeLime,
  aluminum,
  ash,
  hydratedLime,
  magnesium,
  opposite,
  knownFirst,
  doseKnown,
  sameWayAgain,
  manure,
  soilWeather,
  standingPlants,
  inPortions,
]
