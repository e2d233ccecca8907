import type { Assessment } from '../../analysis/assessment.ts'
import { shiftAdvice, shiftMessage } from '../message.ts'
import type { Condition, Rule } from './rule.ts'
import { shiftEvidence, withoutShift } from './shift-evidence.ts'

/** A net change of the bed by 0.5 to 1.0 pH within 30 days. Any shift that is still found keeps it. */
export const earlyWarning: Rule = {
  kind: 'early-warning',
  arises: (assessment) => (assessment.shift?.grade === 'early' ? [condition(assessment)] : []),
  review(alarm, assessment) {
    if (assessment.shift !== null) return { status: 'holds', condition: condition(assessment) }
    return withoutShift(alarm, assessment)
  },
  returned:
    'The bed is within 0.5 pH of where it was, or has kept its new level for 30 days, which now counts as its normal.',
}

function condition(assessment: Assessment): Condition {
  const shift = assessment.shift!
  return {
    subject: '',
    evidence: shiftEvidence(shift),
    sentence: shiftMessage(assessment, shift),
    advice: shiftAdvice(shift, 'early-warning'),
  }
}
