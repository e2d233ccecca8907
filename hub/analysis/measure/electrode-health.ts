import { CALIBRATE_EVERY } from '../../agronomy/electrode-limits.ts'
import { DAY } from '../../model/clock.ts'
import type { ElectrodeCalibration } from '../../model/probe.ts'
import { type CalibrationVerdict, checkCalibration } from './check-calibration.ts'
import { fixed, counted } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

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
      sentence: say`Nothing is known of this electrode: it was never held in buffers.`,
      dueAt: null,
      due: true,
      reminder: say`Calibrate it in two fresh buffers before you trust its pH.`,
    }
  }
  const every = cycling ? CALIBRATE_EVERY.wetAndDryDays : CALIBRATE_EVERY.days
  const dueAt = newest.at + every * DAY
  const age = Math.max(0, Math.floor((at - newest.at) / DAY))
  const rule = cycling
    ? say`every ${every} days where the soil goes wet and dry by turns, as it did here in the last 30 days`
    : say`every ${every} days in the soil`
  const due = at >= dueAt
  return {
    rows,
    sentence: healthSentence(rows),
    dueAt,
    due,
    reminder: say`${due ? say`It was last calibrated ${counted(age, 'day')} ago: it wants fresh buffers now` : say`Fresh buffers in ${counted(Math.max(1, Math.ceil((dueAt - at) / DAY)), 'day')}`} (${rule}; common practice, no source).`,
  }
}

function healthSentence(rows: ElectrodeHealth['rows']): string {
  const known = rows.filter(({ slopePercent }) => slopePercent !== null)
  const [first, newest] = [known[0], known.at(-1)]
  if (first === undefined || newest === undefined) return say`No calibration of it makes a line.`
  const slope = newest.slopePercent!
  const offset = newest.offsetMv!
  const now = say`Slope ${fixed(slope, 1)} %, ${fixed(offset, 0)} mV at pH 7`
  if (first === newest)
    return say`${now}, from one calibration: how it ages shows from the second on.`
  const lost = first.slopePercent! - slope
  const moved = offset - first.offsetMv!
  const days = counted(Math.max(1, Math.round((newest.at - first.at) / DAY)), 'day')
  const course =
    Math.abs(lost) < WORTH_A_WORD
      ? say`its slope has kept within ${WORTH_A_WORD} % over ${days}`
      : lost > 0
        ? say`its slope has fallen by ${fixed(Math.abs(lost), 1)} % over ${days}`
        : say`its slope has risen by ${fixed(Math.abs(lost), 1)} % over ${days}`
  const advice =
    newest.verdict === 'good'
      ? ''
      : ` ${say`An electrode that goes on losing slope is near its end.`}`
  return say`${now}: ${course}, its reading at pH 7 has moved by ${fixed(moved, 0)} mV, in ${counted(known.length, 'calibration')}.${advice}`
}
