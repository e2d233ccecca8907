import type { BedLook } from '../../analysis/assessment.ts'
import { HOUR } from '../../model/clock.ts'
import { toSay } from '../../words/say.ts'
import { shiftAdvice, shiftMessage } from '../message.ts'
import type { Condition, Rule } from './rule.ts'
import { shiftEvidence, withoutShift } from './shift-evidence.ts'

/** Raised above 1.0 pH; goes on until the change is below this. The gap keeps it from coming and going. */
const GOES_ON_FROM = 0.8
/**
 * No on-delay of its own: the watch has seen the step in several hours or several spots before it tells it. Off-delay: one
 * more closed hour must agree.
 */
const OFF_DELAY_MS = HOUR

/** A net change of the bed by more than 1.0 pH within 30 days. */
export const harmfulShift: Rule<BedLook> = {
  kind: 'harmful-shift',
  priority: 'high',
  offDelayMs: OFF_DELAY_MS,
  arises: (look) => (look.shift?.grade === 'harmful' ? [condition(look)] : []),
  review(alarm, look) {
    const { shift } = look
    const sameWay =
      shift !== null && Math.sign(shift.change) === Math.sign(alarm.evidence.change ?? shift.change)
    if (shift?.grade === 'harmful' || (sameWay && Math.abs(shift.change) >= GOES_ON_FROM)) {
      return { status: 'holds', condition: condition(look) }
    }
    return withoutShift(alarm, look)
  },
  returned: toSay(
    'The bed is within 0.8 pH of where it was, or has kept its new level for 30 days, which now counts as its normal.',
  ),
}

function condition(look: BedLook): Condition {
  const shift = look.shift!
  return {
    subject: '',
    evidence: shiftEvidence(shift),
    sentence: shiftMessage(look, shift),
    advice: shiftAdvice(shift, 'harmful-shift'),
  }
}
