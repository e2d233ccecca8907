import type { Assessment } from '../../analysis/assessment.ts'
import { shiftAdvice, shiftMessage } from '../message.ts'
import type { Condition, Rule } from './rule.ts'
import { shiftEvidence, withoutShift } from './shift-evidence.ts'

/** Raised above 1.0 pH; goes on until the change is below this. The gap keeps it from coming and going. */
const GOES_ON_FROM = 0.8

/** A net change of the bed by more than 1.0 pH within 30 days. */
export const harmfulShift: Rule = {
  kind: 'harmful-shift',
  arises: (assessment) => (assessment.shift?.grade === 'harmful' ? [condition(assessment)] : []),
  review(alarm, assessment) {
    const { shift } = assessment
    const sameWay =
      shift !== null && Math.sign(shift.change) === Math.sign(alarm.evidence.change ?? shift.change)
    if (shift?.grade === 'harmful' || (sameWay && Math.abs(shift.change) >= GOES_ON_FROM)) {
      return { status: 'holds', condition: condition(assessment) }
    }
    return withoutShift(alarm, assessment)
  },
  returned:
    'The bed is within 0.8 pH of where it was, or has kept its new level for 30 days, which now counts as its normal.',
}

function condition(assessment: Assessment): Condition {
  const shift = assessment.shift!
  return {
    subject: '',
    evidence: shiftEvidence(shift),
    sentence: shiftMessage(assessment, shift),
    advice: shiftAdvice(shift, 'harmful-shift'),
  }
}
