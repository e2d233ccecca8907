import { DAY, HOUR } from '../../model/clock.ts'
import type { JournalEntry } from '../../model/journal.ts'
import { Z, normalCdf, studentQuantile } from '../stats/distributions.ts'
import { robustMean } from '../aggregate/robust-mean.ts'
import { perSpot } from '../aggregate/same-spot.ts'
import { median } from '../stats/median.ts'
import type { ShiftFinding } from '../assessment.ts'
import { type NetChange, netChange } from './change-of.ts'
import { explanation } from './explanation.ts'
import { onset } from './onset.ts'
import { type SpotLevels, levelBefore } from './spot-levels.ts'

/** A net change of the bed beyond this within 30 days harms roots and soil life, pH. */
const HARMFUL_CHANGE = 1
/** From here it is worth a word, pH. */
const EARLY_CHANGE = 0.5
/** Least probability that the change is beyond the limit of its grade. */
const SURE_ENOUGH = 0.6
/** A spot moved when it went at least this share of the bed's change, the same way. */
const MOVED_SHARE = 0.5
/** An early warning waits until the change has stayed; a harmful one does not. */
const EARLY_LASTING_MS = 3 * HOUR
/** A single probe cannot tell soil from electrode: its word must stay this long, and is never quite sure. */
const ALONE_LASTING_MS = DAY
const ALONE_SURENESS = 0.6
/** Spots of one bed answer to the same cause with changes that differ by about this, pH. */
const ANSWER_SD = 0.12
const PRIOR_FREEDOM = 8

/**
 * A change of level of the bed. Each spot is compared with itself, so that habits of spots and electrodes
 * cancel; the bed's change is the robust mean of the spots' changes. It needs at least half of the comparable
 * spots and at least two of them, or in a bed with one comparable spot a day of persistence.
 */
export function findShift(
  levels: readonly SpotLevels[],
  journal: readonly JournalEntry[],
  at: number,
): ShiftFinding | null {
  const comparable = levels.filter(({ present }) => Number.isFinite(present))
  const net = netChange((lag) => bedChange(comparable, (of) => of.present - levelBefore(of, lag)))
  if (net === null || net.returning || Math.abs(net.change) < EARLY_CHANGE) return null

  const changes = comparable.flatMap((of) => {
    const change = spotChange(of, of.present, net)
    return Number.isFinite(change) ? { levels: of, change } : []
  })
  const bySpot = perSpot(
    changes.map((c) => c.levels.probe.feed.spot.id),
    changes.map((c) => c.change),
  )
  const hasMoved = (change: number): boolean => change / net.change >= MOVED_SHARE
  const moved = changes.filter((c) => hasMoved(bySpot.get(c.levels.probe.feed.spot.id)!))
  const movedSpots = Array.from(bySpot.values()).filter(hasMoved).length
  if (movedSpots === 0) return null
  const alone = bySpot.size === 1
  if (!alone && (movedSpots < 2 || movedSpots * 2 < bySpot.size)) return null

  const since = onset(moved, at)
  const lasted = at - since
  if (alone && (lasted < ALONE_LASTING_MS || !heldForADay(moved[0]!.levels, net))) return null

  const error = standardError(changes, net.change)
  const surenessOf = (limit: number): number =>
    Math.min(alone ? ALONE_SURENESS : 0.99, normalCdf((Math.abs(net.change) - limit) / error.value))
  const harmful = Math.abs(net.change) > HARMFUL_CHANGE && surenessOf(HARMFUL_CHANGE) >= SURE_ENOUGH
  const early = surenessOf(EARLY_CHANGE) >= SURE_ENOUGH && lasted >= EARLY_LASTING_MS
  if (!harmful && !early) return null
  const to = robustMean(
    moved.map((c) => c.levels.present),
    { scale: ANSWER_SD, variance: ANSWER_SD ** 2 },
  ).value
  const names = (chosen: typeof changes): string[] =>
    Array.from(new Set(chosen.map((c) => c.levels.probe.feed.spot.name)))
  return {
    grade: harmful ? 'harmful' : 'early',
    from: to - net.change,
    to,
    change: net.change,
    changeHalfWidth: error.value * studentQuantile(Z.two90, error.freedom),
    since,
    spotsMoved: names(moved),
    spotsSteady: names(changes.filter((c) => !moved.includes(c))),
    sureness: surenessOf(harmful ? HARMFUL_CHANGE : EARLY_CHANGE),
    journalId: explanation(journal, since, net.change)?.id ?? null,
  }
}

/** Robust mean over the spots of what `of` tells of each probe; NaN unless half of the spots can tell. */
function bedChange(levels: readonly SpotLevels[], of: (levels: SpotLevels) => number): number {
  const ids = levels.map((l) => l.probe.feed.spot.id)
  const changes = Array.from(perSpot(ids, levels.map(of)).values())
  if (changes.length * 2 < new Set(ids).size) return NaN
  return robustMean(changes, { scale: ANSWER_SD, variance: ANSWER_SD ** 2 }).value
}

/** Change of one spot between the level before the bed's change and `now`. */
export function spotChange(levels: SpotLevels, now: number, net: NetChange): number {
  return now - median(net.lags.map((lag) => levelBefore(levels, lag)))
}

/** The last 24 hours as a whole lie beyond, not only the latest readings. */
function heldForADay(levels: SpotLevels, net: NetChange): boolean {
  const older = net.lags.filter((lag) => lag >= 2)
  const change = spotChange(levels, levels.daily[0]!, { ...net, lags: older })
  return change / net.change >= 0.8
}

/**
 * Standard error of the bed's change: noise of the present level (hours follow each other closely, so the few
 * latest readings count as one) and of the level before, and how differently the spots answered.
 */
function standardError(
  changes: readonly { readonly levels: SpotLevels; readonly change: number }[],
  centre: number,
): { value: number; freedom: number } {
  const n = changes.length
  const noise = changes.reduce((sum, c) => sum + c.levels.noise ** 2, 0) / n
  const prior = 1.2 * noise + ANSWER_SD ** 2
  // Squares are bounded so that one failing probe among others does not drown what they agree on.
  const squares = changes.reduce((sum, c) => sum + Math.min((c.change - centre) ** 2, 9 * prior), 0)
  const freedom = PRIOR_FREEDOM + n - 1
  return { value: Math.sqrt((PRIOR_FREEDOM * prior + squares) / freedom / n), freedom }
}
