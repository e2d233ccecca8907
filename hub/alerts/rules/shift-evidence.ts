import type { Assessment, ShiftFinding } from '../../analysis/assessment.ts'
import type { Alarm, AlarmEvidence } from '../../model/alarm.ts'
import type { Verdict } from './rule.ts'

export function shiftEvidence(shift: ShiftFinding): AlarmEvidence {
  const { from, to, change, changeHalfWidth, since, spotsMoved, spotsSteady, sureness, journalId } =
    shift
  return { from, to, change, changeHalfWidth, since, spotsMoved, spotsSteady, sureness, journalId }
}

/**
 * What an assessment without the shift says of an alarm about the bed. It may end only when there is a pH
 * and at least half of the spots that moved and still hold a probe count in it: a spot gone dry or silent is
 * not a bed gone back to normal. When none of them holds a probe any more, nothing can ever be said.
 */
export function withoutShift(alarm: Alarm, assessment: Assessment): Verdict {
  const held = alarm.evidence.spotsMoved.filter((moved) =>
    assessment.spots.some(({ spot }) => spot === moved),
  )
  if (held.length === 0) {
    return {
      status: 'void',
      sentence: 'No probe is left in the spots that moved, so it can no longer be followed.',
    }
  }
  if (assessment.ph.status !== 'ok') return { status: 'unknown' }
  const { used } = assessment.ph
  const heard = held.filter((spot) => used.includes(spot)).length
  return { status: heard * 2 >= held.length ? 'clear' : 'unknown' }
}
