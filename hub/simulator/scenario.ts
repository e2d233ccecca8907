import type { Garden, PhBand, Texture } from '../model/bed.ts'
import type { SampleMethod } from '../model/journal.ts'
import type { NewPlan, PlanningSettings } from '../model/plan.ts'
import type { BedSoil, SoilTestBody } from '../model/soil.ts'
import type { ElectrodeCharacter } from './electrode.ts'
import type { Fault } from './faults.ts'
import type { WateringHabit } from './moisture.ts'
import type { PhEvent, Response, SoilCharacter } from './soil.ts'
import type { Climate } from './weather.ts'

/** A place in a bed. */
export interface ScenarioSpot {
  /** Unique in the scenario. */
  readonly key: string
  readonly name: string
  /** How far its pH lies from the bed's, pH. */
  readonly offsetPh: number
  /** How strongly it feels what happens to the bed, about 1. */
  readonly gain: number
}

export interface ScenarioBed {
  /** Unique in the scenario. */
  readonly key: string
  readonly name: string
  readonly areaM2: number
  readonly depthM: number
  readonly texture: Texture
  /** Slugs of the crop table. */
  readonly crops: readonly string[]
  readonly ownBand: PhBand | null
  readonly madeAt: number
  readonly soil: SoilCharacter
  readonly habit: WateringHabit
  readonly spots: readonly ScenarioSpot[]
}

export interface MoistureCharacter {
  /** Counts in dry air and in saturated soil. */
  readonly dryCounts: number
  readonly wetCounts: number
  /** Counts per degree from 20 degrees Celsius. */
  readonly countsPerC: number
}

export interface ScenarioProbe {
  readonly id: string
  readonly name: string
  /** False: it publishes, but nobody has taken it into the garden. */
  readonly adopted: boolean
  /** First power-up, epoch ms. */
  readonly from: number
  /** Where it sat, ascending; ends where the next begins. Empty for a probe on the bench. */
  readonly placements: readonly { readonly spot: string; readonly from: number }[]
  readonly depthM: number
  readonly electrode: ElectrodeCharacter
  readonly moisture: MoistureCharacter
  /** Times of cleaning and calibration, epoch ms, ascending. */
  readonly services: readonly number[]
  readonly faults: readonly Fault[]
  /** Readings it can hold back while nothing gets through. */
  readonly buffer: number
  /** How much faster its clock runs than true, share. */
  readonly clockError: number
}

/** Something put on a bed, with what it does there. */
export interface Treatment {
  readonly bed: string
  readonly at: number
  readonly material: string
  readonly amountG: number
  readonly text: string
  /** Null: no effect on pH. */
  readonly response: Response | null
}

/** A pH measured by hand from the true soil, with the method's own offset and scatter. */
export interface Sampling {
  readonly bed: string
  readonly at: number
  readonly method: SampleMethod
  /** Reads higher than the soil in place by this, pH, and scatters by this standard deviation. */
  readonly offsetPh: number
  readonly scatterPh: number
  readonly text: string
}

export interface ScenarioNote {
  readonly bed: string
  readonly at: number
  readonly text: string
}

/** What the gardener found out about the soil of a bed. */
export interface ScenarioSoil {
  readonly bed: string
  readonly soil: Omit<BedSoil, 'bedId'>
  readonly tests: readonly {
    readonly at: number
    readonly text: string
    readonly body: SoilTestBody
  }[]
}

/** A plan that was kept; its stages name the treatments that did them by their time. */
export interface ScenarioPlan {
  readonly bed: string
  readonly createdAt: number
  readonly plan: Omit<NewPlan, 'bedId' | 'stages'>
  readonly stages: readonly (Omit<NewPlan['stages'][number], 'entryId'> & {
    /** When it was put on, as in the scenario's treatments; null while it lies ahead. */
    readonly doneAt: number | null
  })[]
}

/** What happens to a bed while somebody watches. */
export interface LiveEvent {
  readonly event: Omit<PhEvent, 'at'>
  /** What happened in the garden; nobody wrote it in the journal. */
  readonly story: string
}

/** A whole invented garden with its history: everything the simulator needs. Times are epoch ms. */
export interface Scenario {
  readonly seed: number
  readonly garden: Garden
  readonly climate: Climate
  /** The history reaches from here to `now`. */
  readonly start: number
  readonly now: number
  /** From here on readings come every `denseMs`, before it every `sparseMs`. */
  readonly denseFrom: number
  readonly sparseMs: number
  readonly denseMs: number
  readonly beds: readonly ScenarioBed[]
  readonly probes: readonly ScenarioProbe[]
  readonly treatments: readonly Treatment[]
  readonly events: readonly PhEvent[]
  readonly samplings: readonly Sampling[]
  readonly notes: readonly ScenarioNote[]
  readonly soils: readonly ScenarioSoil[]
  readonly plans: readonly ScenarioPlan[]
  readonly settings: PlanningSettings
  readonly liveEvent: LiveEvent
}

/** The same garden with one more event. */
export function withEvent(scenario: Scenario, event: PhEvent): Scenario {
  return { ...scenario, events: [...scenario.events, event] }
}
