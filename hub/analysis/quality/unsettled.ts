import { textureRow } from '../../agronomy/textures.ts'
import type { Texture } from '../../model/bed.ts'
import { HOUR, MINUTE } from '../../model/clock.ts'
import type { SpotHistory } from '../measure/spot-history.ts'
import { QARTOD, flagColumn } from './qartod.ts'

/**
 * Water that comes or goes faster than this within an hour moves salt and contact (UC Cooperative Extension on the
 * salt effect; the figures are recalled): m3/m3, and the same share of field capacity on other scales.
 */
const FAST_CHANGE = 0.02
/** For so long after it the pH is not settled. */
const SETTLES_MS = 6 * HOUR
/** Hourly rows count as an hour apart even when one is late. */
const WITHIN_MS = 90 * MINUTE

/**
 * Suspect in the first hours after the soil was wetted (or its moisture jumped for another reason); not evaluated
 * without moisture.
 *
 * @param capacity moisture at field capacity on the probe's scale
 */
export function unsettled(
  history: Pick<SpotHistory, 'time' | 'ph' | 'moisture' | 'moistureScale' | 'step'>,
  texture: Texture,
  capacity: number,
): Uint8Array {
  const { time, ph, moisture, moistureScale, step } = history
  const flags = flagColumn(ph, QARTOD.notEvaluated)
  if (moistureScale === 'unknown' || step === 'day') return flags
  const fast =
    moistureScale === 'volume'
      ? FAST_CHANGE
      : (FAST_CHANGE / textureRow(texture).fieldCapacity) * capacity
  let movedAt = -Infinity
  let knownAt = -Infinity
  let from = 0
  for (let row = 0; row < time.length; row++) {
    const at = time[row]!
    while (time[from]! < at - WITHIN_MS) from++
    const now = moisture[row]!
    for (let back = from; back < row; back++) {
      if (Math.abs(now - moisture[back]!) > fast) movedAt = at
    }
    if (!Number.isNaN(now)) knownAt = at
    if (flags[row] === QARTOD.missing || at - knownAt > SETTLES_MS) continue
    flags[row] = at - movedAt < SETTLES_MS ? QARTOD.suspect : QARTOD.pass
  }
  return flags
}
