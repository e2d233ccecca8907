import type { Texture } from '../../model/bed.ts'
import { DAY, HOUR } from '../../model/clock.ts'
import { availableNow } from '../moisture/available-now.ts'
import { stepWater } from '../moisture/step-water.ts'
import { DRY_BELOW } from '../quality/dry-soil.ts'
import { FLAG } from '../quality/flags.ts'
import { cusumStep } from '../stats/cusum-step.ts'
import { median } from '../stats/median.ts'
import { clearSums, closeDay, hourOfDay, learnNoise } from './baseline.ts'
import type { HourRow } from './hour-row.ts'
import { putRecent, recentMedian } from './recent.ts'
import { VISIT_AFTER_MS, latestVisit, seeVisit } from './visits.ts'
import type { SpotState, WatchContext } from './watch-state.ts'

/**
 * The chart in pH units: reference value and decision limit, and how they widen where a spot is noisier. A clean
 * step d is found after limit / (d - reference) hours: 1.0 after 3, 0.5 after 8; steps up to 0.3 never.
 */
const REFERENCE = { least: 0.3, perSd: 2.5 } as const
const LIMIT = { least: 1.5, perSd: 12.5 } as const
/** One hour counts for at most this, pH. */
const CLIP = 2
/** A sound probe sends more often; an hour with one lone reading of several usual ones is no level. */
const LEAST_READINGS = 2
/** So many identical readings over so long are a stuck input. */
const STUCK = { readings: 12, fineMs: 3 * HOUR, coarseMs: DAY } as const
/** After a visit the new level is the median of so many hours. */
const SETTLED_HOURS = 24
/** A step that begins after so many of them is another one. */
const SHOWN_HOURS = 8
/** The sums of the chart outlast a silence of this. */
const SUMS_LAST_MS = DAY
/** How fast the usual temperature of an hour follows. */
const USUAL_C_SHARE = 0.15

/** A chart that has crossed its limit. */
export interface Signal {
  readonly spot: SpotState
  readonly sign: -1 | 1
  /** Epoch ms, the hour in which the sum left zero. */
  readonly onset: number
}

/** The level that a visit left behind, against the one before it. */
export interface VisitStep {
  readonly spot: SpotState
  readonly visit: number
  /** Deviation from the usual before, 0 unless the spot was set aside; and after. */
  readonly before: number
  readonly after: number
}

/** What one hour of one spot came to. */
export interface Taken {
  readonly signal: Signal | null
  readonly visitStep: VisitStep | null
}

const NOTHING: Taken = { signal: null, visitStep: null }

/** Takes one hour of one probe into its state. */
export function takeRow(
  spot: SpotState,
  row: HourRow,
  hour: number,
  texture: Texture,
  context: WatchContext,
): Taken {
  const day = Math.floor(hour / DAY) * DAY
  if (spot.today !== day) closeDay(spot, day)
  spot.lastRow = hour
  seeVisit(spot, hour, row.moistureLow)
  stepWater(
    spot.water,
    {
      hour,
      moisture: row.moisture,
      moistureLow: row.moistureLow,
      moistureScale: row.moistureScale,
      temperatureC: row.temperatureC,
    },
    texture,
  )
  const available = availableNow(spot.water, row.moisture, row.moistureScale, texture)
  const dry = available < DRY_BELOW
  const at = hourOfDay(hour)
  const stuck = standsStill(spot, row, hour)
  spot.lastFlags = row.flags | (stuck ? FLAG.flat : 0)
  const enough = hasEnough(spot, row)
  const visit = latestVisit(spot, context, hour + HOUR)
  // Only what was handled while it sat here; a calibration on the bench came before its first row.
  if (visit > spot.lastVisit && visit >= hour - VISIT_AFTER_MS) beginSettling(spot, visit)
  const masked = hour < spot.lastVisit + VISIT_AFTER_MS
  const ph = spot.lastFlags === 0 && enough && !masked ? row.ph : NaN
  const residual = ph - spot.base[at]!
  putRecent(spot.recent, hour, {
    ph,
    residual,
    available,
    moisture: row.moisture,
    warming: row.temperatureC - spot.usualC[at]!,
  })
  const usual = spot.usualC[at]!
  if (Number.isFinite(row.temperatureC)) {
    spot.usualC[at] = Number.isNaN(usual)
      ? row.temperatureC
      : usual + USUAL_C_SHARE * (row.temperatureC - usual)
  }
  gather(spot, row, ph, available, dry)
  if (Number.isNaN(ph)) return NOTHING
  // What was summed up before a long silence is no part of a step after it.
  if (hour - spot.lastPh > SUMS_LAST_MS) clearSums(spot)
  spot.lastPh = hour
  const { held } = spot
  // The level after a visit joins what is usual once it is known by how much it differs.
  if (!dry && held === null && spot.settling === null) spot.todayPh[at] = ph
  if (Number.isNaN(residual)) {
    // Nothing to compare the new level with: it is learned like any other.
    if (spot.settling !== null) {
      spot.settling = null
      spot.shownAt = hour
    }
    return NOTHING
  }
  const visitStep = settle(spot, residual, dry, hour)
  if (held !== null || visitStep !== null) return { signal: null, visitStep }
  if (!dry && spot.settling === null) learnNoise(spot, residual)
  return { signal: chart(spot, residual, hour), visitStep: null }
}

function chart(spot: SpotState, residual: number, hour: number): Signal | null {
  const { sums, back } = spot
  Object.assign(back[1], back[0])
  Object.assign(back[0], sums)
  const sd = Number.isNaN(spot.sd) ? 0 : spot.sd
  const sign = cusumStep(sums, residual, hour, {
    reference: Math.max(REFERENCE.least, REFERENCE.perSd * sd),
    limit: Math.max(LIMIT.least, LIMIT.perSd * sd),
    clip: CLIP,
  })
  if (sign === 0) return null
  const onset = sign > 0 ? sums.aboveSince : sums.belowSince
  sums.above = 0
  sums.below = 0
  return { spot, sign, onset }
}

/** An unbroken run of one value: an hour counts as still when its lowest is its highest and the one before. */
function standsStill(spot: SpotState, row: HourRow, hour: number): boolean {
  if (Number.isNaN(row.raw)) return false
  if (!row.still || row.raw !== spot.stillRaw) {
    spot.stillRaw = row.still ? row.raw : NaN
    spot.stillSince = hour
    spot.stillReadings = row.count
    if (!row.still) return false
  } else spot.stillReadings += row.count
  const lasted = hour + HOUR - spot.stillSince
  return (
    spot.stillReadings >= STUCK.readings && lasted >= (row.coarse ? STUCK.coarseMs : STUCK.fineMs)
  )
}

function hasEnough(spot: SpotState, row: HourRow): boolean {
  const { count } = row
  if (!(count > 0)) return false
  const usual = spot.usualCount
  spot.usualCount = Number.isNaN(usual) ? count : usual + (count - usual) / 24
  return count >= Math.min(LEAST_READINGS, Math.max(1, Math.round(spot.usualCount / 2)))
}

/** What the two hours before a visit did to the sums is undone. */
function beginSettling(spot: SpotState, visit: number): void {
  spot.lastVisit = visit
  const before =
    spot.held === null ? 0 : recentMedian(spot.recent, 'residual', visit - DAY, visit - 2 * HOUR)
  spot.settling = { visit, before, residuals: [] }
  spot.shownAt = Infinity
  // A day of two levels has none.
  spot.gathered.ph.length = 0
  if (spot.held === null) Object.assign(spot.sums, spot.back[1])
}

/** Once a day of hours after a visit is there, its level is known. */
function settle(spot: SpotState, residual: number, dry: boolean, hour: number): VisitStep | null {
  const { settling } = spot
  if (settling === null || dry) return null
  settling.residuals.push(residual)
  if (settling.residuals.length === SHOWN_HOURS) spot.shownAt = hour + HOUR
  if (settling.residuals.length < SETTLED_HOURS) return null
  spot.settling = null
  const { visit, before, residuals } = settling
  return { spot, visit, before, after: median(residuals) }
}

function gather(spot: SpotState, row: HourRow, ph: number, available: number, dry: boolean): void {
  const { gathered } = spot
  if (!Number.isNaN(ph) && !dry) gathered.ph.push(ph)
  if (Number.isFinite(row.moisture)) {
    gathered.moisture += row.moisture
    gathered.moistureHours++
  }
  if (Number.isFinite(available)) {
    gathered.available += available
    gathered.availableHours++
  }
  if (Number.isFinite(row.temperatureC)) {
    gathered.celsius += row.temperatureC
    gathered.celsiusHours++
  }
}
