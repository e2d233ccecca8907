import { HOUR } from '../../model/clock.ts'
import type { SpotHistory } from '../measure/spot-history.ts'
import { OUT_OF_SOIL } from '../moisture/out-of-soil.ts'
import { QARTOD, flagColumn } from './qartod.ts'

/** Around the noted time of a service the electrode is out of the soil or in buffers; nobody notes it exactly. */
const HANDLED_MS = 2 * HOUR
/** Its junction settles for so long afterwards. */
const SETTLES_MS = 16 * HOUR

/**
 * Fail while the probe is out of the soil: where its moisture is next to none, and around the noted times; suspect
 * while it settles afterwards. Not evaluated when neither is known.
 *
 * @param serviced when the probe was calibrated or serviced, epoch ms, ascending; null when that is not at hand
 */
export function serviceWindow(
  { time, ph, moisture, moistureLow, moistureScale }: SpotHistory,
  serviced: readonly number[] | null,
): Uint8Array {
  const seen = moistureScale !== 'unknown'
  if (!seen && serviced === null) return flagColumn(ph, QARTOD.notEvaluated)
  const flags = flagColumn(ph, QARTOD.pass)
  let handledUntil = -Infinity
  let settlesUntil = -Infinity
  let next = 0
  for (let row = 0; row < time.length; row++) {
    const at = time[row]!
    const out = seen && moisture[row]! < OUT_OF_SOIL
    // Pulled for a moment of an hour: its median is still the soil's, but the contact is new.
    if (out || (seen && moistureLow[row]! < OUT_OF_SOIL)) settlesUntil = at + SETTLES_MS
    for (let noted = serviced?.[next]; noted !== undefined && noted <= at;) {
      handledUntil = noted + HANDLED_MS
      settlesUntil = Math.max(settlesUntil, noted + SETTLES_MS)
      noted = serviced?.[++next]
    }
    const coming = serviced?.[next] ?? Infinity
    if (flags[row] === QARTOD.missing) continue
    if (out || at <= handledUntil || coming - at <= HANDLED_MS) flags[row] = QARTOD.fail
    else if (at < settlesUntil) flags[row] = QARTOD.suspect
  }
  return flags
}
