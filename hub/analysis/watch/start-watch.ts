import type { Bed } from '../../model/bed.ts'
import { HOUR } from '../../model/clock.ts'
import { startWater } from '../moisture/start-water.ts'
import { startCusum } from '../stats/cusum-step.ts'
import {
  BACK_HOURS,
  type Gathered,
  KEPT_DAYS,
  LEVEL_DAYS,
  NOISE_HOURS,
  type SpotState,
  WATCH_VERSION,
  type WatchState,
} from './watch-state.ts'

/** A watch that has seen nothing yet; its first hour is the one that holds `from`, epoch ms. */
export function startWatch(bed: Bed, from: number): WatchState {
  return {
    version: WATCH_VERSION,
    bedId: bed.id,
    cursor: Math.floor(from / HOUR) * HOUR,
    spots: [],
    events: [],
    water: null,
    ramps: [],
  }
}

const blank = (length: number): Float64Array => new Float64Array(length).fill(NaN)

export function startSpot(spotId: number, probe: string): SpotState {
  return {
    spotId,
    probe,
    water: startWater(),
    lastRow: NaN,
    lastPh: NaN,
    usualCount: NaN,
    stillRaw: NaN,
    stillSince: NaN,
    stillReadings: 0,
    lastFlags: 0,
    days: blank(KEPT_DAYS * 24),
    dayOf: blank(KEPT_DAYS),
    keptDays: 0,
    today: NaN,
    todayPh: blank(24),
    base: blank(24),
    rebased: 0,
    recent: {
      hour: blank(BACK_HOURS),
      ph: blank(BACK_HOURS),
      residual: blank(BACK_HOURS),
      available: blank(BACK_HOURS),
      moisture: blank(BACK_HOURS),
      warming: blank(BACK_HOURS),
    },
    noise: blank(NOISE_HOURS),
    noiseSeen: 0,
    sd: NaN,
    phi: NaN,
    sums: startCusum(),
    back: [startCusum(), startCusum()],
    held: null,
    seenVisits: [],
    lastVisit: -Infinity,
    settling: null,
    shownAt: -Infinity,
    usualC: blank(24),
    level: blank(LEVEL_DAYS + 1),
    levelDay: blank(LEVEL_DAYS + 1),
    gathered: gatherDay(NaN),
  }
}

export function gatherDay(day: number): Gathered {
  return {
    day,
    ph: [],
    moisture: 0,
    moistureHours: 0,
    available: 0,
    availableHours: 0,
    celsius: 0,
    celsiusHours: 0,
  }
}
