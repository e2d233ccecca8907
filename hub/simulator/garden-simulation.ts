import { DAY } from '../model/clock.ts'
import { wander } from './hourly-track.ts'
import { bedWater, type BedWater } from './moisture.ts'
import { simulatedProbe, type SimulatedProbe, type SpotState } from './probe.ts'
import { seededRandom } from './random.ts'
import type { Scenario, ScenarioBed, ScenarioProbe } from './scenario.ts'
import { eventChange, responseShare, undisturbedPh } from './soil.ts'
import { weather, type Weather } from './weather.ts'

/** The true state of one bed. Every method takes epoch ms. */
export interface BedState {
  readonly bed: ScenarioBed
  readonly water: BedWater
  /** True pH of the bed as a whole. */
  ph(at: number): number
}

/**
 * A garden as a function of time: the same scenario gives the same state at the same moment, whatever was
 * asked before, so that live probes go on exactly where the history ended.
 */
export interface GardenSimulation {
  readonly scenario: Scenario
  readonly weather: Weather
  bed(key: string): BedState
  spot(key: string): SpotState
  probe(id: string): SimulatedProbe
}

function found<T>(map: ReadonlyMap<string, T>, key: string, what: string): T {
  const value = map.get(key)
  if (value === undefined) throw new RangeError(`no ${what} '${key}' in the scenario`)
  return value
}

const SPOT_WANDER_PH = 0.04
const SPOT_WANDER_H = 20 * 24

export function simulateGarden(scenario: Scenario): GardenSimulation {
  const { start } = scenario
  const random = seededRandom(scenario.seed)
  const sky = weather(scenario.climate, start, random.split('weather'))
  const beds = new Map<string, BedState>()
  const spots = new Map<string, SpotState>()

  for (const bed of scenario.beds) {
    const own = random.split(`bed ${bed.key}`)
    const water = bedWater({
      texture: bed.texture,
      depthM: bed.depthM,
      habit: bed.habit,
      weather: sky,
      solarOffsetH: scenario.climate.solarOffsetH,
      startMs: start,
      random: own.split('water'),
    })
    const slow = undisturbedPh(bed.soil, sky, start, own.split('soil'))
    const treatments = scenario.treatments.filter((one) => one.bed === bed.key)
    const events = scenario.events.filter((one) => one.bed === bed.key)
    const pushed = (at: number): number => {
      let change = 0
      for (const { at: putOn, response } of treatments) {
        if (response !== null && at > putOn) {
          change += response.peakPh * responseShare(response, (at - putOn) / DAY)
        }
      }
      for (const event of events) change += eventChange(event, at)
      return change
    }
    const state: BedState = { bed, water, ph: (at) => slow.valueAt(at) + pushed(at) }
    beds.set(bed.key, state)
    for (const spot of bed.spots) {
      const ownWander = wander(start, own.split(`spot ${spot.key}`), SPOT_WANDER_PH, SPOT_WANDER_H)
      spots.set(spot.key, {
        water,
        ph: (at) =>
          slow.valueAt(at) + spot.gain * pushed(at) + spot.offsetPh + ownWander.valueAt(at),
      })
    }
  }

  const probes = new Map<string, SimulatedProbe>()
  const described = new Map<string, ScenarioProbe>(scenario.probes.map((one) => [one.id, one]))
  const around = {
    seed: scenario.seed,
    startMs: start,
    weather: sky,
    spot: (key: string) => found(spots, key, 'spot'),
  }
  return {
    scenario,
    weather: sky,
    bed: (key) => found(beds, key, 'bed'),
    spot: around.spot,
    probe: (id) => {
      const known = probes.get(id)
      if (known !== undefined) return known
      const probe = simulatedProbe(around, found(described, id, 'probe'))
      probes.set(id, probe)
      return probe
    },
  }
}
