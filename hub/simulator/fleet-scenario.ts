import { DAY, HOUR, MINUTE } from '../model/clock.ts'
import { TEXTURES } from '../model/bed.ts'
import { ATLANTIC_COAST } from './climate.ts'
import type { Fault } from './faults.ts'
import { seededRandom } from './random.ts'
import type { Scenario, ScenarioBed, ScenarioProbe } from './scenario.ts'

/** Probes that share a bed. */
const PER_BED = 3
/** The soil is known from a little before, so that its water has settled. */
const BEFORE_MS = 40 * DAY

export interface FleetOptions {
  /** The same seed gives the same soil, probes and readings. */
  readonly seed: number
  readonly count: number
  /** Ids are this and a number, from 1. */
  readonly prefix: string
  /** Epoch ms. */
  readonly now: number
  /** How much faster the clocks run than true, share; 0: right. */
  readonly clockError: number
  /** Readings each probe can hold back. */
  readonly buffer: number
  /** Faults of a probe by its number from 1; times are epoch ms. */
  readonly faultsOf: (number: number) => readonly Fault[]
}

/** So many probes in invented beds, three to a bed, from `now` on. Nothing happened in the beds before. */
export function fleetScenario(options: FleetOptions): Scenario {
  const { seed, count, prefix, now, clockError, buffer, faultsOf } = options
  const start = Math.floor((now - BEFORE_MS) / HOUR) * HOUR
  const random = seededRandom(seed).split('fleet')
  const beds = Array.from({ length: Math.ceil(count / PER_BED) }, (_, i): ScenarioBed => {
    const own = random.split(`bed ${i}`)
    return {
      key: `bed ${i}`,
      name: `Bench bed ${i + 1}`,
      areaM2: 2,
      depthM: 0.3,
      texture: TEXTURES[Math.floor(own.uniform() * TEXTURES.length)]!,
      crops: [],
      ownBand: null,
      madeAt: start,
      soil: {
        basePh: own.between(5.2, 7.2),
        driftPhPerYear: own.normal(0, 0.05),
        seasonPh: 0.06,
        rainPhPerMm: 0.003,
        rainDays: 5,
        wobblePh: 0.04,
      },
      habit: { at: 0.25, keenness: 0.9, refill: 0.9, neglect: [] },
      spots: Array.from({ length: PER_BED }, (__, k) => ({
        key: `spot ${i * PER_BED + k}`,
        name: `Spot ${k + 1}`,
        offsetPh: own.normal(0, 0.1),
        gain: 1,
      })),
    }
  })
  const probes = Array.from({ length: count }, (_, i): ScenarioProbe => {
    const own = random.split(`probe ${i}`)
    return {
      id: `${prefix}${i + 1}`,
      name: `${prefix}${i + 1}`,
      adopted: false,
      from: now,
      placements: [{ spot: `spot ${i}`, from: now }],
      depthM: 0.15,
      electrode: {
        zeroMv: Math.max(-14, Math.min(14, own.normal(0, 6))),
        slopeShare: own.between(0.962, 0.998),
        slopeLossPerYear: own.between(0.008, 0.028),
        driftPh: 0.025,
        driftSpreadPh: 0.02,
        temperaturePhPerC: own.normal(0, 0.004),
      },
      moisture: {
        dryCounts: Math.round(own.between(2950, 3250)),
        wetCounts: Math.round(own.between(1250, 1500)),
        countsPerC: own.normal(0, 1.2),
      },
      services: [],
      faults: faultsOf(i + 1),
      buffer,
      clockError,
    }
  })
  return {
    seed,
    garden: { name: 'Bench', zone: 'Etc/UTC', units: 'metric', language: 'en' },
    climate: ATLANTIC_COAST,
    start,
    now,
    denseFrom: start,
    sparseMs: MINUTE,
    denseMs: MINUTE,
    beds,
    probes,
    treatments: [],
    events: [],
    samplings: [],
    notes: [],
    soils: [],
    plans: [],
    settings: { season: null, currency: null, prices: [] },
    liveEvent: { event: { bed: 'bed 0', changePh: 0, rampMs: 1, returnHalfDays: 1 }, story: '' },
  }
}
