import { CLASSES, RECENT_HOURS, type WaterState } from './water-state.ts'

/** Nothing known yet. */
export function startWater(): WaterState {
  return {
    scale: 'unknown',
    hour: NaN,
    unbrokenFrom: NaN,
    recent: new Float64Array(RECENT_HOURS).fill(NaN),
    recentHour: new Float64Array(RECENT_HOURS).fill(NaN),
    seen: new Float64Array(CLASSES),
    seenHours: 0,
    seenHigh: NaN,
    seenLow: NaN,
    drained: [],
    soaked: [],
    drainedHigh: NaN,
    capacity: NaN,
    capacitySpread: NaN,
    wetUps: 0,
    wetting: null,
    wettings: [],
    drying: null,
    dryDowns: [],
  }
}
