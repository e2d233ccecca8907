import type { Bed } from '../../model/bed.ts'
import { HOUR } from '../../model/clock.ts'
import { type WaterStanding, waterStanding } from '../moisture/water-standing.ts'
import { recentMedian } from './recent.ts'
import type { WatchState } from './watch-state.ts'

/** The bed's water by its latest hours, epoch ms. */
export function waterNow(state: WatchState, bed: Bed, at: number): WaterStanding {
  return waterStanding(
    bed,
    state.spots.map((spot) => ({
      spotId: spot.spotId,
      spot: '',
      probe: spot.probe,
      state: spot.water,
      moisture: recentMedian(spot.recent, 'moisture', spot.lastRow - 2 * HOUR, spot.lastRow),
      scale: spot.water.scale,
      at: spot.lastRow,
    })),
    at,
  )
}
