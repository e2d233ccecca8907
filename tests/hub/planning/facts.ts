import type { Assessment } from '#hub/analysis/assessment.ts'
import type { DoseEffect } from '#hub/analysis/amendment/dose-effect.ts'
import type { DailySeries } from '#hub/analysis/aggregate/daily-series.ts'
import type { Study } from '#hub/analysis/study.ts'
import type { WatchEvent } from '#hub/analysis/watch/event.ts'
import type { Bed } from '#hub/model/bed.ts'
import { DAY } from '#hub/model/clock.ts'
import type { JournalEntry } from '#hub/model/journal.ts'
import type { BedSoil, NewSoilTest, SoilTest } from '#hub/model/soil.ts'
import type { BedFacts } from '#hub/planning/bed-facts.ts'

/** Noon of 12 May 2027 in UTC: the growing season of the north. */
export const NOW = Date.UTC(2027, 4, 12, 12)

/** A bed told by what differs from the usual one. */
export interface Change {
  readonly bed: Partial<Bed>
  readonly soil: Partial<BedSoil>
  /** pH of the bed's last days, oldest first, the newest yesterday; or one for all of 20 days. */
  readonly ph: number | readonly number[]
  /** Standard error of a day. */
  readonly se: number
  readonly journal: readonly Partial<JournalEntry>[]
  readonly tests: readonly NewSoilTest[]
  /** Soil temperature by days before now; null: no sensor. */
  readonly soilC: ((daysBefore: number) => number) | null
  readonly at: number
  readonly zone: string
  readonly season: { readonly from: string; readonly to: string } | null
  readonly study: Partial<Study>
  readonly assessment: Partial<Assessment> | null
  /** No study yet. */
  readonly unstudied: boolean
}

/** A bed of loam, 9.29 m2 (100 sq ft) and 15 cm deep, at pH 5.5 under a band of 6.3 to 7.0, confirmed, bare, warm. */
export function factsOf(change: Partial<Change> = {}): BedFacts {
  const at = change.at ?? NOW
  const ph = change.ph ?? 5.5
  const values = typeof ph === 'number' ? Array.from({ length: 20 }, () => ph) : ph
  const today = Math.floor(at / DAY) * DAY
  const days: DailySeries = {
    day: Float64Array.from(values, (_, i) => today - (values.length - i) * DAY),
    value: Float64Array.from(values),
    se: new Float64Array(values.length).fill(change.se ?? 0.05),
  }
  const bed: Bed = {
    id: 1,
    name: 'Heron Bed',
    areaM2: 9.29,
    depthM: 0.15,
    texture: 'loam',
    crops: [],
    ownBand: { low: 6.3, high: 7 },
    rank: 1,
    createdAt: 0,
    retiredAt: null,
    ...change.bed,
  }
  const last = values.at(-1) ?? 5.5
  const journal = (change.journal ?? [sampleOf(last, 5, at)]).map((entry, i) => ({
    ...EMPTY_ENTRY,
    id: i + 1,
    ...entry,
  }))
  const warmth = change.soilC === undefined ? yearOf() : change.soilC
  return {
    bed,
    at,
    zone: change.zone ?? 'Europe/Lisbon',
    soil: {
      bedId: 1,
      bulkDensity: 1350,
      planting: 'bare',
      hardWater: false,
      ...change.soil,
    },
    tests: (change.tests ?? []).map((test, i): SoilTest => ({ ...test, id: i + 1 })),
    journal,
    plans: [],
    assessment: change.assessment === null ? null : assessmentOf(at, change.assessment ?? {}),
    study: change.unstudied === true ? null : studyOf(at, days, change.study ?? {}),
    soilC:
      warmth === null ? { day: new Float64Array(), value: new Float64Array() } : daysOf(at, warmth),
    settings: { season: change.season ?? null, currency: null, prices: [] },
  }
}

const EMPTY_ENTRY: JournalEntry = {
  id: 0,
  bedId: 1,
  at: 0,
  kind: 'note',
  material: null,
  amountG: null,
  waterL: null,
  probe: null,
  ph: null,
  method: null,
  text: '',
}

export function sampleOf(ph: number, daysBefore: number, at = NOW): Partial<JournalEntry> {
  return { kind: 'sample', at: at - daysBefore * DAY, ph, method: 'laboratory' }
}

export function treated(
  material: string,
  daysBefore: number,
  amountG: number | null = null,
  at = NOW,
): Partial<JournalEntry> {
  return { kind: 'treatment', at: at - daysBefore * DAY, material, amountG }
}

/** A year of soil: 4 degrees in the middle of January, 20 in July. */
export function yearOf(at = NOW): (daysBefore: number) => number {
  return (daysBefore) =>
    12 - 8 * Math.cos((2 * Math.PI * ((at - daysBefore * DAY) / DAY - 15)) / 365.25)
}

function daysOf(at: number, warmth: (daysBefore: number) => number): BedFacts['soilC'] {
  const today = Math.floor(at / DAY) * DAY
  return {
    day: Float64Array.from({ length: 400 }, (_, i) => today - (399 - i) * DAY),
    value: Float64Array.from({ length: 400 }, (_, i) => warmth(399 - i)),
  }
}

const NONE = { status: 'insufficient', have: 'nothing', need: 'more' } as const

function studyOf(at: number, days: DailySeries, change: Partial<Study>): Study {
  return {
    at,
    days: {
      bed: days,
      spots: [],
      needed: { spots: 2, effective: 2, spotSd: 0.18, halfWidth: 0.3, needed: 4, outlying: null },
    },
    trend: NONE,
    likeSeason: NONE,
    electrodes: [],
    samples: NONE,
    sampleOffsets: [],
    wobble: { took: 0, beds: [] },
    control: null,
    effects: [],
    band: null,
    forecast: NONE,
    inBand: NONE,
    ...change,
  }
}

function assessmentOf(at: number, change: Partial<Assessment>): Assessment {
  const standing = {
    at,
    excess: 0,
    missing: null,
  } as unknown as Assessment['water']['standing']
  return {
    bedId: 1,
    bed: 'Heron Bed',
    at,
    shift: null,
    stay: null,
    ahead: null,
    hasBand: true,
    probes: [],
    water: { state: 'moist', since: null, standing, sentence: '', grounds: [] },
    spots: [
      {
        spotId: 1,
        spot: 'north',
        probe: 'hern1',
        ph: 5.5,
        newestPh: 5.5,
        moisture: 0.3,
        temperatureC: 14,
        at,
        leftOut: null,
      },
    ],
    ph: NONE,
    moisture: NONE,
    temperature: NONE,
    band: { status: 'none', band: null, sentence: '' },
    standing: 'unknown',
    watch: {
      at,
      events: [],
      spots: [],
      learning: null,
      water: standing,
      waterCourse: null,
    },
    study: null,
    sentence: '',
    ...change,
  }
}

export function eventOf(change: Partial<WatchEvent> = {}): WatchEvent {
  return {
    id: 'step-1',
    bedId: 1,
    form: 'step',
    onset: NOW - 2 * DAY,
    noticedAt: NOW - 2 * DAY,
    firstCause: 'soil',
    cause: 'soil',
    decidedAt: null,
    size: -0.6,
    sizeSe: 0.05,
    present: -0.6,
    spots: [{ spotId: 1, probe: 'hern1', before: 6.1, change: -0.6, moved: true }],
    evidence: {
      leastAvailable: NaN,
      wetting: NaN,
      warming: NaN,
      serviceAt: null,
      serviceLogged: false,
      journalId: null,
      withinPlan: null,
      otherBeds: [],
    },
    state: 'open',
    endedAt: null,
    ...change,
  }
}

/** A treatment with a measured effect at its highest point. */
export function effectOf(
  id: number,
  at: number,
  material: string,
  peak: { value: number; low: number; high: number },
): DoseEffect {
  return {
    ids: [id],
    at,
    material,
    question: 'above where it was',
    verdict: 'effect',
    onsetDays: { value: 30, low: 10, high: 50 },
    peakDays: { value: 140, low: 100, high: 200 },
    peak,
    present: peak,
    halfLife: { kind: 'at least', days: 200 },
    notLargerThan: null,
    halfBackAt: null,
    curve: null,
    points: null,
    sentence: '',
    grounds: [],
  }
}
