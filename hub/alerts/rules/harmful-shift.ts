import type { BedLook } from '../../analysis/assessment.ts'
import { shiftAdvice, shiftMessage } from '../message.ts'
import type { Condition, Rule } from './rule.ts'
import { shiftEvidence, withoutShift } from './shift-evidence.ts'

/** Raised above 1.0 pH; goes on until the change is below this. The gap keeps it from coming and going. */
const GOES_ON_FROM = 0.8

/** A net change of the bed by more than 1.0 pH within 30 days. */
export const harmfulShift: Rule = {
  kind: 'harmful-shift',
  priority: 'high',
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
  returned:
    'The bed is within 0.8 pH of where it was, or has kept its new level for 30 days, which now counts as its normal.',
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
