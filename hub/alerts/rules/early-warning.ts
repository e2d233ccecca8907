import { CAUSE_WORDS } from '../../analysis/event-words.ts'
import type { BedLook } from '../../analysis/assessment.ts'
import { HOUR } from '../../model/clock.ts'
import { said, say, toSay } from '../../words/say.ts'
import { shiftAdvice, shiftMessage } from '../message.ts'
import type { Condition, Rule } from './rule.ts'
import { deservesWarning, shiftEvidence, withoutShift } from './shift-evidence.ts'

/** On-delay: that of the watch (see the harmful shift). Off-delay: one more closed hour must agree. */
const OFF_DELAY_MS = HOUR

/** A net change of the bed by 0.5 to 1.0 pH within 30 days. Any shift that is still found keeps it. */
export const earlyWarning: Rule<BedLook> = {
  kind: 'early-warning',
  priority: 'medium',
  offDelayMs: OFF_DELAY_MS,
  arises: (look) =>
    look.shift?.grade === 'early' && deservesWarning(look.shift) ? [condition(look)] : [],
  review(alarm, look) {
    const { shift } = look
    if (shift !== null && deservesWarning(shift)) {
      return { status: 'holds', condition: condition(look) }
    }
    if (shift !== null) {
      return {
        status: 'void',
        sentence: say`It is explained now: most likely ${said(CAUSE_WORDS[shift.cause])}.`,
      }
    }
    return withoutShift(alarm, look)
  },
  returned: toSay(
    'The bed is within 0.5 pH of where it was, or has kept its new level for 30 days, which now counts as its normal.',
  ),
}

function condition(look: BedLook): Condition {
  const shift = look.shift!
  return {
    subject: '',
    evidence: shiftEvidence(shift),
    sentence: shiftMessage(look, shift),
    advice: shiftAdvice(shift, 'early-warning'),
  }
}
