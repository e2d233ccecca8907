import { HOUR } from '../../model/clock.ts'
import { normalCdf } from '../stats/distributions.ts'
import { median } from '../stats/median.ts'
import { perSpot } from '../aggregate/same-spot.ts'
import { netChange } from './change-of.ts'
import { spotChange } from './find-shift.ts'
import { onset } from './onset.ts'
import { type SpotLevels, levelBefore } from './spot-levels.ts'

/** A probe that moved by itself while the rest of the bed stayed. */
export interface Apart {
  readonly levels: SpotLevels
  /** Change against the others, pH. */
  readonly change: number
  readonly from: number
  readonly to: number
  readonly since: number
}

/** A probe that went this far from the others is worth a look, pH. */
const APART = 0.5
/** The others must have moved by less than this share of what it did. */
const STEADY_SHARE = 0.5
const SURE_ENOUGH = 0.8
const LASTING_MS = 3 * HOUR

/**
 * Probes that changed against the rest of their bed within 30 days: most likely the electrode, its contact or
 * the spot, not the bed. Needs at least one other comparable spot.
 */
export function findApart(levels: readonly SpotLevels[], at: number): Apart[] {
  const comparable = levels.filter(({ present }) => Number.isFinite(present))
  return comparable.flatMap((own) => {
    const spot = own.probe.feed.spot.id
    const others = comparable.filter((other) => other.probe.feed.spot.id !== spot)
    if (others.length === 0) return []
    const othersChange = (of: (levels: SpotLevels) => number): number =>
      median(
        perSpot(
          others.map((o) => o.probe.feed.spot.id),
          others.map(of),
        ).values(),
      )
    const net = netChange((lag) => {
      const change = (l: SpotLevels): number => l.present - levelBefore(l, lag)
      return change(own) - othersChange(change)
    })
    if (net === null || net.returning || Math.abs(net.change) < APART) return []
    const ownChange = spotChange(own, own.present, net)
    const rest = othersChange((l) => spotChange(l, l.present, net))
    if (!(Math.abs(rest) < STEADY_SHARE * Math.abs(ownChange))) return []
    const lately =
      spotChange(own, own.lately, net) - othersChange((l) => spotChange(l, l.lately, net))
    if (!(lately / net.change > 0 && Math.abs(lately) >= APART)) return []
    const noise = Math.hypot(own.noise, median(others.map((o) => o.noise))) * 1.1
    if (normalCdf((Math.abs(net.change) - APART * 0.8) / noise) < SURE_ENOUGH) return []
    const since = onset([{ levels: own, change: ownChange }], at)
    if (at - since < LASTING_MS) return []
    return {
      levels: own,
      change: net.change,
      from: own.present - ownChange,
      to: own.present,
      since,
    }
  })
}
