import type { Quantity } from '../../model/quantity.ts'
import { isSoilPh, isSoilTemperature } from '../quality/gross-range.ts'
import type { CheckedHistory } from '../quality/flags.ts'
import type { Grid } from './grid.ts'

/** One spot's values on a grid, NaN = nothing. */
export interface GriddedSpot {
  readonly value: Float64Array
  readonly min: Float64Array
  readonly max: Float64Array
  /** 1 where only values that do not count were there; `value` then holds their mean. */
  readonly leftOut: Uint8Array
}

/** Means, lowest and highest of each bucket; values that do not count stay out as long as others are there. */
export function gather(history: CheckedHistory, quantity: Quantity, grid: Grid): GriddedSpot {
  const { time, flags } = history
  const column = history[quantity]
  const value = new Float64Array(grid.length).fill(NaN)
  const min = new Float64Array(grid.length).fill(NaN)
  const max = new Float64Array(grid.length).fill(NaN)
  const leftOut = new Uint8Array(grid.length)
  const counted = new Uint32Array(grid.length)
  for (let row = 0; row < time.length; row++) {
    const v = column[row]!
    if (Number.isNaN(v)) continue
    const cell = Math.floor((time[row]! - grid.start) / grid.stepMs)
    if (cell < 0 || cell >= grid.length) continue
    const counts =
      quantity === 'ph' ? flags[row] === 0 : quantity === 'moisture' || isSoilTemperature(v)
    if (!counts && counted[cell]! > 0 && leftOut[cell] === 0) continue
    if (counted[cell] === 0 || (counts && leftOut[cell] === 1)) {
      value[cell] = 0
      counted[cell] = 0
      leftOut[cell] = counts ? 0 : 1
    }
    value[cell]! += v
    counted[cell]!++
    if (!counts) continue
    // A lowest or highest reading that no soil can have is a spike the median has already dealt with.
    const low = quantity === 'ph' && isSoilPh(history.phMin[row]!) ? history.phMin[row]! : v
    const high = quantity === 'ph' && isSoilPh(history.phMax[row]!) ? history.phMax[row]! : v
    if (!(min[cell]! <= low)) min[cell] = low
    if (!(max[cell]! >= high)) max[cell] = high
  }
  for (let cell = 0; cell < grid.length; cell++)
    if (counted[cell]! > 1) value[cell]! /= counted[cell]!
  return { value, min, max, leftOut }
}
