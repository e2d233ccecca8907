import { CALIBRATE_EVERY } from '../../agronomy/electrode-limits.ts'
import { DAY } from '../../model/clock.ts'
import type { ElectrodeCalibration } from '../../model/probe.ts'
import { counted } from '../format.ts'
import { type CalibrationVerdict, checkCalibration } from './check-calibration.ts'

/** How one electrode aged, by its calibrations, oldest first. */
export interface ElectrodeHealth {
  readonly rows: readonly ({ readonly id: number; readonly at: number } & CalibrationVerdict)[]
  readonly sentence: string
  /** When it wants fresh buffers, epoch ms; null: it never had any. */
  readonly dueAt: number | null
  readonly due: boolean
  readonly reminder: string
}

/** Slope lost since the first calibration that is worth a word, per cent; judgement. */
const WORTH_A_WORD = 3
/** Share of the probe's range between its driest and wettest day that is called going wet and dry; judgement. */
const WET_AND_DRY_SPAN = 0.4
/** The same as water by volume, m3/m3. */
const WET_AND_DRY_VOLUME = 0.15

/** Whether soil between these two went wet and dry again, which wears an electrode. */
export function wetAndDry(low: number, high: number, scale: string): boolean {
  return high - low >= (scale === 'volume' ? WET_AND_DRY_VOLUME : WET_AND_DRY_SPAN)
}

/**
 * @param calibrations of one channel, ascending
 * @param cycling whether its soil goes wet and dry by turns
 */
export function electrodeHealth(
  calibrations: readonly ElectrodeCalibration[],
  { at, cycling }: { readonly at: number; readonly cycling: boolean },
): ElectrodeHealth {
  const rows = calibrations.map((c) => ({ id: c.id, at: c.at, ...checkCalibration(c) }))
  const newest = rows.at(-1)
  if (newest === undefined) {
    return {
      rows,
      sentence: 'Nothing is known of this electrode: it was never held in buffers.',
      dueAt: null,
      due: true,
      reminder: 'Calibrate it in two fresh buffers before you trust its pH.',
    }
  }
  const every = cycling ? CALIBRATE_EVERY.wetAndDryDays : CALIBRATE_EVERY.days
  const dueAt = newest.at + every * DAY
  const age = Math.max(0, Math.floor((at - newest.at) / DAY))
  const rule = cycling
    ? `every ${every} days where the soil goes wet and dry by turns, as it did here in the last 30 days`
    : `every ${every} days in the soil`
  const due = at >= dueAt
  return {
    rows,
    sentence: healthSentence(rows),
    dueAt,
    due,
    reminder: `${due ? `It was last calibrated ${counted(age, 'day')} ago: it wants fresh buffers now` : `Fresh buffers in ${counted(Math.max(1, Math.ceil((dueAt - at) / DAY)), 'day')}`} (${rule}; common practice, no source).`,
  }
}

function healthSentence(rows: ElectrodeHealth['rows']): string {
  const known = rows.filter(({ slopePercent }) => slopePercent !== null)
  const [first, newest] = [known[0], known.at(-1)]
  if (first === undefined || newest === undefined) return 'No calibration of it makes a line.'
  const slope = newest.slopePercent!
  const offset = newest.offsetMv!
  const now = `Slope ${slope.toFixed(1)} %, ${offset.toFixed(0)} mV at pH 7`
  if (first === newest) return `${now}, from one calibration: how it ages shows from the second on.`
  const lost = first.slopePercent! - slope
  const moved = offset - first.offsetMv!
  const days = counted(Math.max(1, Math.round((newest.at - first.at) / DAY)), 'day')
  const course =
    Math.abs(lost) < WORTH_A_WORD
      ? `its slope has kept within ${WORTH_A_WORD} % over ${days}`
      : `its slope has ${lost > 0 ? 'fallen' : 'risen'} by ${Math.abs(lost).toFixed(1)} % over ${days}`
  const advice =
    newest.verdict === 'good' ? '' : ' An electrode that goes on losing slope is near its end.'
  return `${now}: ${course}, its reading at pH 7 has moved by ${moved.toFixed(0)} mV, in ${counted(known.length, 'calibration')}.${advice}`
}
