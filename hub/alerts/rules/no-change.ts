import type { AlarmEvidence } from '../../model/alarm.ts'

/** Evidence of what is not about a change of pH. */
export const NO_CHANGE: AlarmEvidence = {
  from: null,
  to: null,
  change: null,
  changeHalfWidth: null,
  since: null,
  spotsMoved: [],
  spotsSteady: [],
  sureness: null,
  journalId: null,
  cause: null,
  causeSettled: null,
}
