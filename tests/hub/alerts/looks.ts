import type { BandStay } from '#hub/analysis/band-stay.ts'
import type { BedLook, WaterFinding } from '#hub/analysis/assessment.ts'
import type { BandForecast } from '#hub/analysis/forecast/forecast-band.ts'
import type { HubLook } from '#hub/alerts/hub-look.ts'
import type { ProbeLook } from '#hub/alerts/probe-look.ts'
import type { Alarm, AlarmStep } from '#hub/model/alarm.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'

export const T0 = 1_750_000_000_000

export function water(state: WaterFinding['state']): WaterFinding {
  return {
    state,
    since: state === 'unknown' ? null : T0,
    standing: {
      at: T0,
      missing: null,
      roots: { depthM: 0.25, depletion: 0.4, sensitive: null },
      excess: NaN,
      totalMm: 30,
      readilyMm: 12,
      missingMm: null,
      refillL: null,
      daysUntilDry: null,
      rateFrom: null,
      lastWettingAt: null,
      spots: [],
    },
    sentence: `The soil is ${state}.`,
    grounds: [],
  }
}

const spot = (spotId: number, name: string, probe: string) => ({
  spotId,
  spot: name,
  probe,
  leftOut: null,
})

/** A bed of two spots at which nothing is wrong. */
export function bedLook(change: Partial<BedLook> = {}): BedLook {
  return {
    bedId: 1,
    bed: 'East bed',
    at: T0,
    shift: null,
    probes: [],
    water: water('ample'),
    stay: null,
    ahead: null,
    hasBand: true,
    spots: [spot(1, 'north', 'alder1'), spot(2, 'south', 'alder2')],
    ...change,
  }
}

/** A level that has been `beyond` the lower edge of 6.0 to 7.0 for so many hours. */
export function stay(beyond: number, hours: number, change: Partial<BandStay> = {}): BandStay {
  return {
    band: { low: 6, high: 7 },
    value: 6 - beyond,
    halfWidth: 0.2,
    beyond,
    side: 'below',
    sureness: 0.95,
    hoursBeyond: (margin) => (beyond >= margin ? hours : 0),
    spots: [1, 2],
    ...change,
  }
}

/** An outlook whose middle course leaves the band in so many days. */
export function ahead(days: number | null, chance: number, at = T0): BandForecast {
  const none = new Float64Array(0)
  return {
    status: 'ok',
    time: none,
    fan: [none, none, none, none, none],
    now: 'inside',
    leaves:
      days === null
        ? null
        : { edge: 'low', median: at + days * DAY, earliest: at + DAY, latest: null },
    chances: [{ days: 90, outside: chance }],
    season: false,
  }
}

/** A probe that sends every hour and was heard half an hour ago. */
export function probeLook(change: Partial<ProbeLook> = {}): ProbeLook {
  const at = change.at ?? T0
  return {
    at,
    bedId: 1,
    bed: 'East bed',
    spot: 'north',
    probe: 'alder1',
    name: 'alder1',
    lastAt: at - HOUR / 2,
    placedAt: T0 - 30 * DAY,
    intervalMs: HOUR,
    backAt: null,
    listeningSince: T0 - 30 * DAY,
    supply: { levels: [3.9, 3.9, 3.9], unit: 'V', lowBelow: 3.4, told: [false, false, false] },
    calibratedAt: at - 10 * DAY,
    ...change,
  }
}

export function hubLook(change: Partial<HubLook> = {}): HubLook {
  return {
    at: T0,
    bedId: null,
    troubles: [],
    disk: { freeBytes: 50e9, totalBytes: 64e9, fullAt: null },
    probes: { placed: 3, silent: 0, heardAt: null },
    ...change,
  }
}

/** Keeps alarms as the store does, and every change. */
export function alarmBook() {
  let alarms: Alarm[] = []
  let nextId = 1
  const changes: AlarmStep[] = []
  return {
    take(steps: readonly (AlarmStep | null)[]): readonly AlarmStep[] {
      const real = steps.filter((step) => step !== null)
      for (const step of real) {
        const alarm = step.alarm.id === 0 ? { ...step.alarm, id: nextId++ } : step.alarm
        alarms = [...alarms.filter(({ id }) => id !== alarm.id), alarm]
        if (step.what !== null) changes.push({ ...step, alarm })
      }
      return real
    },
    get all(): readonly Alarm[] {
      return alarms
    },
    get open(): readonly Alarm[] {
      return alarms.filter(({ state }) => state !== 'normal')
    },
    get changes(): readonly AlarmStep[] {
      return changes
    },
  }
}
