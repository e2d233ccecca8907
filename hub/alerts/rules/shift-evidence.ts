import type { Assessment, ShiftFinding } from '../../analysis/assessment.ts'
import type { Alarm, AlarmEvidence } from '../../model/alarm.ts'

export function shiftEvidence(shift: ShiftFinding): AlarmEvidence {
  const { from, to, change, changeHalfWidth, since, spotsMoved, spotsSteady, sureness, journalId } =
    shift
  return { from, to, change, changeHalfWidth, since, spotsMoved, spotsSteady, sureness, journalId }
}

/**
 * Whether an assessment may end an alarm about the bed: it must have a pH, and at least half of the spots
 * that moved must count in it. A spot gone dry or silent is not a bed gone back to normal.
 */
export function canEnd(alarm: Alarm, assessment: Assessment): boolean {
  if (assessment.ph.status !== 'ok') return false
  const { used } = assessment.ph
  const { spotsMoved } = alarm.evidence
  const heard = spotsMoved.filter((spot) => used.includes(spot)).length
  return heard * 2 >= spotsMoved.length
}
