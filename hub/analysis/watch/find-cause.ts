import { amendmentOf } from '../../agronomy/amendments.ts'
import { DAY, HOUR } from '../../model/clock.ts'
import { DRY_BELOW } from '../quality/dry-soil.ts'
import { textureRow } from '../../agronomy/textures.ts'
import { waterLimits } from '../moisture/water-limits.ts'
import type { Cause, CauseEvidence } from './event.ts'
import { recentLeast, recentMedian, recentMost } from './recent.ts'
import { type Visit, visitsOf } from './visits.ts'
import { type KeptEvent, type SpotState, type WatchContext, keyOf } from './watch-state.ts'

/** A visit from so long before the onset to so long after explains a step. */
const VISIT_BEFORE_ONSET_MS = 48 * HOUR
const VISIT_AFTER_ONSET_MS = 2 * HOUR
/** Poor contact only lowers; a rise by more than this has another cause, unless water came to dry soil. */
const DRY_RISE = 0.2
/**
 * Poor contact lowers a pH by nothing in moist soil, by up to 1.5 in dry (Vogel et al. 2024): from this share of
 * available water on, this much at wilting point. The share is learned, so it may be off by some; noise comes on
 * top.
 */
const CONTACT = { from: 0.4, worst: 1.6, power: 0.8, unsureShare: 0.1, noise: 0.4 } as const
/** Soil that was dry so long before the onset may have had poor contact that water has just ended. */
const DRY_BEFORE_MS = DAY
/** A spot moved with the first when it went the same way by at least this share of it, and this much. */
const MOVED = { share: 0.3, least: 0.2 } as const
/** A rise of moisture by this much of volume is water that came. */
const WETTING_VOLUME = 0.03
/** Falls by water stay below this, pH (nearly all of those seen in the field do). */
const WATER_MOST = 1
/** A jump of soil temperature by this much moves electrodes by less than this, pH. */
const WARMING = { least: 8, most: 0.5 } as const
/** A treatment explains a step within two weeks, and is often written down a little late. */
const TREATED_BEFORE_MS = 14 * DAY
/** A change so small crosses the chart slowly: it may be the working of a treatment that takes its time. */
const SLOW = { mostPh: 0.5, beforeMs: 60 * DAY } as const
const TREATED_AFTER_MS = DAY
/** A treatment should move a bed by no more than this, pH (trade rule: not more than one unit at once). */
const PLAN_MOST = 1
const OTHERS_WITHIN_MS = DAY

export interface Verdict {
  readonly cause: Cause
  /** Change of each spot, NaN where it cannot be told; by key. */
  readonly changes: ReadonlyMap<string, number>
  readonly moved: ReadonlySet<string>
  readonly size: number
  readonly evidence: CauseEvidence
}

/**
 * The most likely cause of a step, judged with what was known at the end of hour `hour`. The first rule that
 * matches decides: handling, dry contact, one spot alone, water, else the soil (or a treatment that explains it); a
 * spot without others is never called soil or probe.
 *
 * @param settled a day later: the change is read from half a day instead of the first hours
 */
export function findCause(
  event: Pick<KeptEvent, 'first' | 'onset' | 'noticedAt' | 'bedId'>,
  spots: readonly SpotState[],
  hour: number,
  context: WatchContext,
  settled: boolean,
): Verdict {
  const first = spots.find((spot) => keyOf(spot) === event.first)!
  const { onset } = event
  const from = Math.max(onset, hour - (settled ? 12 : 2) * HOUR)
  const changes = new Map(
    spots.map((spot) => {
      const latest = recentMedian(spot.recent, 'residual', from, hour)
      // One that has fallen silent since still tells what it saw.
      const change = Number.isNaN(latest)
        ? recentMedian(spot.recent, 'residual', onset, hour)
        : latest
      return [keyOf(spot), change]
    }),
  )
  const size = changes.get(event.first)!

  const others = spots.filter(
    (spot) => spot.spotId !== first.spotId && Number.isFinite(changes.get(keyOf(spot))),
  )
  const least = Math.max(MOVED.share * Math.abs(size), MOVED.least)
  const follows = (change: number): boolean => change * Math.sign(size) >= least
  const moved = new Set<string>([event.first])
  for (const spot of spots) {
    if (spot !== first && follows(changes.get(keyOf(spot))!)) moved.add(keyOf(spot))
  }
  const spotsThat = (those: readonly SpotState[]): number =>
    new Set(those.map(({ spotId }) => spotId)).size
  const share =
    others.length === 0
      ? NaN
      : spotsThat(others.filter((spot) => moved.has(keyOf(spot)))) / spotsThat(others)

  const evidence = gatherEvidence(first, onset, hour, size, context)
  const { serviceAt, wetting, warming } = evidence
  const isWetting = wetting >= WETTING_VOLUME / textureRow(context.bed.texture).fieldCapacity
  // Contact while the pH fell: soil that water reached before that was moist by then.
  const noticed = Math.max(onset, Math.min(hour, event.noticedAt - HOUR))
  const contact = recentMedian(first.recent, 'available', onset, noticed)
  const isDry = contact < DRY_BELOW && size < DRY_RISE && -size <= contactMost(contact)
  const before = recentLeast(first.recent, 'available', onset - DRY_BEFORE_MS, onset)
  const wasDry = isWetting && before < DRY_BELOW && size > 0 && size <= contactMost(before)
  // Dry soil has kept a probe from showing its level since an older visit, and explains a fall by itself.
  const isLate = serviceAt !== null && serviceAt < onset - VISIT_BEFORE_ONSET_MS
  let cause: Cause
  if (serviceAt !== null && !(isLate && (isDry || wasDry))) cause = 'service'
  else if (isDry || wasDry) cause = 'dry contact'
  else if (share < 0.5) cause = 'probe'
  else if (isWetting && size < 0 && size > -WATER_MOST) cause = 'water'
  else if (Math.abs(warming) >= WARMING.least && Math.abs(size) < WARMING.most) cause = 'water'
  else if (others.length === 0) cause = 'unconfirmed'
  else cause = evidence.journalId === null ? 'soil' : 'treatment'
  return { cause, changes, moved, size, evidence }
}

/** The latest visit known by the end of an hour that explains a step with this onset. */
export function visitExplaining(
  spot: SpotState,
  onset: number,
  hour: number,
  context: WatchContext,
): Visit | undefined {
  const to = Math.min(onset + VISIT_AFTER_ONSET_MS, hour + HOUR)
  const visit = visitsOf(spot, context, onset - VISIT_BEFORE_ONSET_MS, to)[0]
  if (visit !== undefined) return visit
  // However long ago: a probe that could not be read since has had no time to show the level it was left with.
  return onset < spot.shownAt
    ? visitsOf(spot, context, spot.lastVisit, Math.min(spot.lastVisit, to))[0]
    : undefined
}

/** The most that poor contact may take from a pH at this share of available water. */
function contactMost(available: number): number {
  const { from, worst, power, unsureShare, noise } = CONTACT
  const missing = Math.min(1, Math.max(0, (from - available + unsureShare) / from))
  return noise + worst * missing ** power
}

function gatherEvidence(
  first: SpotState,
  onset: number,
  hour: number,
  size: number,
  context: WatchContext,
): CauseEvidence {
  const { recent } = first
  const visit = visitExplaining(first, onset, hour, context)
  const treatment = treatmentFor(
    context,
    size,
    onset - (Math.abs(size) < SLOW.mostPh ? SLOW.beforeMs : TREATED_BEFORE_MS),
    onset + TREATED_AFTER_MS,
    hour,
  )
  const wet = recentMost(recent, 'moisture', onset - 18 * HOUR, hour)
  const before = recentLeast(recent, 'moisture', onset - 24 * HOUR, onset)
  const { scale } = first.water
  const capacity =
    scale === 'unknown' ? NaN : waterLimits(first.water, scale, context.bed.texture).capacity
  return {
    leastAvailable: recentLeast(recent, 'available', onset - 12 * HOUR, hour),
    wetting: (wet - before) / capacity,
    warming: recentMedian(recent, 'warming', onset - HOUR, hour),
    serviceAt: visit?.at ?? null,
    serviceLogged: visit?.logged ?? false,
    journalId: treatment,
    withinPlan: treatment === null ? null : Math.abs(size) <= PLAN_MOST,
    otherBeds: Array.from(
      new Set(
        context.others
          .filter(
            (other) =>
              other.noticedAt <= hour &&
              Math.abs(other.onset - onset) <= OTHERS_WITHIN_MS &&
              Math.sign(other.size) === Math.sign(size) &&
              (other.cause === 'soil' || other.cause === 'water' || other.cause === 'unconfirmed'),
          )
          .map(({ bedId }) => bedId),
      ),
    ).toSorted((a, b) => a - b),
  }
}

/** The newest treatment that was known by then and works in this direction, or whose working nobody knows. */
export function treatmentFor(
  context: WatchContext,
  change: number,
  from: number,
  to: number,
  hour: number,
): number | null {
  const found = context.journal.findLast((entry) => {
    if (entry.kind !== 'treatment' || entry.at < from || entry.at > Math.min(to, hour + HOUR)) {
      return false
    }
    const direction = amendmentOf(entry.material ?? '')?.direction ?? 'unclear'
    return (
      direction === 'unclear' ||
      (direction === 'raises' && change > 0) ||
      (direction === 'lowers' && change < 0)
    )
  })
  return found?.id ?? null
}
