import { DAY, HOUR } from '../../model/clock.ts'
import { DRY_BELOW } from '../quality/dry-soil.ts'
import { median } from '../stats/median.ts'
import { availableNow } from '../moisture/available-now.ts'
import { stepWaterStanding } from '../moisture/step-water-standing.ts'
import { usualLevel } from './baseline.ts'
import type { WatchEvent } from './event.ts'
import { expectedFalse } from './expected-false.ts'
import type { HourRow } from './hour-row.ts'
import { NO_EVIDENCE } from './keep-events.ts'
import { presentChange } from './present-change.ts'
import { type Deviation, togetherAway, usualAt } from './quick-signals.ts'
import { recentAt } from './recent.ts'
import { treatmentFor } from './find-cause.ts'
import { VISIT_AFTER_MS, latestVisit } from './visits.ts'
import { waterNow } from './water-now.ts'
import { type SpotState, type WatchContext, type WatchState } from './watch-state.ts'
import type { SpotWatch, SpotWatching, WatchView } from './watch-view.ts'
import { say } from '../../words/say.ts'

/** Events that ended are still told for this long. */
const TOLD_MS = 30 * DAY
const SILENT_MS = DAY

/**
 * What can be said at `at` (epoch ms): the state after the closed hours, and on top of it the open hour, whose rows are
 * medians of the latest readings of each probe. The state is left alone. A bed that left its level by a pH unit
 * or more in the open hour is told at once.
 */
export function peekWatch(
  state: WatchState,
  open: readonly HourRow[],
  context: WatchContext,
  at: number,
): WatchView {
  const deviations = state.spots.map((spot): Deviation => ({
    spot,
    residual: openResidual(spot, open, context, at),
  }))
  const openOf = (spot: SpotState): number =>
    deviations.find((d) => d.spot === spot)?.residual ?? NaN
  const hour = state.cursor - HOUR
  const events: WatchEvent[] = []
  for (const event of state.events) {
    if (event.endedAt !== null && event.endedAt < at - TOLD_MS) continue
    const now = presentChange(event, state.spots, hour, openOf)
    events.push({ ...event, present: Number.isFinite(now) ? now : event.present })
  }
  const fresh = openEvent(state, deviations, context, at)
  if (fresh !== null) events.push(fresh)
  events.sort((a, b) => b.noticedAt - a.noticedAt || (a.id < b.id ? 1 : -1))
  const spots = state.spots.map((spot) => spotWatch(spot, context, at))
  const water = waterNow(state, context.bed, at)
  return {
    at,
    events,
    spots,
    learning: learningOf(state, spots),
    water,
    waterCourse: state.water === null ? null : stepWaterStanding(state.water, water),
  }
}

/** Deviation of a spot in the open hour; NaN when it has none that counts. */
function openResidual(
  spot: SpotState,
  open: readonly HourRow[],
  context: WatchContext,
  at: number,
): number {
  const row = open.find((r) => r.spotId === spot.spotId && r.probe === spot.probe)
  if (row === undefined || row.flags !== 0 || !Number.isFinite(row.ph)) return NaN
  if (at < latestVisit(spot, context, at) + VISIT_AFTER_MS) return NaN
  const dry =
    availableNow(spot.water, row.moisture, row.moistureScale, context.bed.texture) < DRY_BELOW
  return dry ? NaN : row.ph - usualAt(spot, at)
}

/** A change of the whole bed that only the open hour shows; null when there is none or it is told already. */
function openEvent(
  state: WatchState,
  deviations: readonly Deviation[],
  context: WatchContext,
  at: number,
): WatchEvent | null {
  const free = deviations.map(({ spot, residual }) => ({
    spot,
    residual: spot.held === null ? residual : NaN,
  }))
  const away = togetherAway(free)
  const first = away[0]
  if (first === undefined) return null
  const size = median(away.map(({ residual }) => residual))
  const journalId = treatmentFor(context, size, at - 14 * DAY, at, at)
  const onset = state.cursor
  return {
    id: `step-${onset}-${first.spot.spotId}-${first.spot.probe}`,
    bedId: state.bedId,
    form: 'step',
    onset,
    // The open hour it is seen in: the same as long as the hour lasts, whenever somebody looks.
    noticedAt: onset,
    firstCause: journalId === null ? 'soil' : 'treatment',
    cause: journalId === null ? 'soil' : 'treatment',
    decidedAt: null,
    size,
    sizeSe: Math.max(0.05, (0.12 * Math.abs(size)) / Math.sqrt(away.length)),
    present: size,
    spots: free
      .filter(({ residual }) => Number.isFinite(residual))
      .map(({ spot, residual }) => ({
        spotId: spot.spotId,
        probe: spot.probe,
        before: usualLevel(spot),
        change: residual,
        moved: away.some((a) => a.spot === spot),
      })),
    evidence: {
      ...NO_EVIDENCE,
      journalId,
      withinPlan: journalId === null ? null : Math.abs(size) <= 1,
    },
    state: 'open',
    endedAt: null,
  }
}

function spotWatch(spot: SpotState, context: WatchContext, at: number): SpotWatch {
  const usual = usualLevel(spot)
  return {
    spotId: spot.spotId,
    probe: spot.probe,
    watching: watchingOf(spot, usual, context, at),
    flags: spot.lastFlags,
    usual,
    sd: spot.sd,
    phi: spot.phi,
    falsePerYear: expectedFalse(spot.sd, spot.phi),
    lastRow: spot.lastRow,
    lastPh: spot.lastPh,
  }
}

function watchingOf(
  spot: SpotState,
  usual: number,
  context: WatchContext,
  at: number,
): SpotWatching {
  if (!(at - spot.lastRow < SILENT_MS)) return 'silent'
  if (spot.lastFlags !== 0) return 'flagged'
  if (at < latestVisit(spot, context, at) + VISIT_AFTER_MS) return 'settling'
  if (recentAt(spot.recent, 'available', spot.lastRow) < DRY_BELOW) return 'dry'
  if (Number.isNaN(usual)) return 'learning'
  return spot.held === null ? 'watched' : 'set aside'
}

function learningOf(state: WatchState, spots: readonly SpotWatch[]): WatchView['learning'] {
  if (spots.some(({ usual }) => Number.isFinite(usual))) return null
  const most = Math.max(0, ...state.spots.map(({ keptDays }) => keptDays))
  return {
    status: 'insufficient',
    have:
      spots.length === 0
        ? say`no readings yet`
        : most === 1
          ? say`${most} day of moist, undisturbed readings`
          : say`${most} days of moist, undisturbed readings`,
    need: say`four days of at least ten such hours each`,
  }
}
