import type { BedLook, ShiftFinding } from '../../analysis/assessment.ts'
import type { Alarm, AlarmEvidence } from '../../model/alarm.ts'
import { say } from '../../words/say.ts'
import type { Verdict } from './rule.ts'

/**
 * Whether a change from 0.5 to 1.0 deserves an alarm: water that mostly goes away again, and a treatment that does
 * what one treatment should, are told on the page and need nobody's attention.
 */
export function deservesWarning(shift: ShiftFinding): boolean {
  if (shift.cause === 'water') return false
  return shift.cause !== 'treatment' || shift.event.evidence.withinPlan === false
}

export function shiftEvidence(shift: ShiftFinding): AlarmEvidence {
  return {
    from: shift.from,
    to: shift.to,
    change: shift.change,
    changeHalfWidth: shift.changeHalfWidth,
    since: shift.since,
    spotsMoved: shift.spotsMoved,
    spotsSteady: shift.spotsSteady,
    sureness: shift.sureness,
    journalId: shift.journalId,
    cause: shift.cause,
    causeSettled: shift.decided,
  }
}

/**
 * What a look without the shift says of an alarm about the bed. It may end only when there is a pH
 * and at least half of the spots that moved and still hold a probe count in it: a spot gone dry or silent is
 * not a bed gone back to normal. When none of them holds a probe any more, nothing can ever be said.
 */
export function withoutShift(alarm: Alarm, look: BedLook): Verdict {
  const held = alarm.evidence.spotsMoved.filter((moved) =>
    look.spots.some(({ spot }) => spot === moved),
  )
  if (held.length === 0) {
    return {
      status: 'void',
      sentence: say`No probe is left in the spots that moved, so it can no longer be followed.`,
    }
  }
  const counting = new Set(look.spots.flatMap((s) => (s.leftOut === null ? s.spot : [])))
  if (counting.size === 0) return { status: 'unknown' }
  const heard = held.filter((spot) => counting.has(spot)).length
  return { status: heard * 2 >= held.length ? 'clear' : 'unknown' }
}
