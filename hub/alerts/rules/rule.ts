import type { BedLook } from '../../analysis/assessment.ts'
import type { Alarm, AlarmEvidence, AlarmKind, AlarmPriority } from '../../model/alarm.ts'

/** A condition that a look shows. */
export interface Condition {
  /** '' for the bed itself, a probe id for a probe check. */
  readonly subject: string
  readonly evidence: AlarmEvidence
  readonly sentence: string
  readonly advice: string
}

/** What a look says of an alarm that is open already. */
export type Verdict =
  /** It goes on, with this evidence. */
  | { readonly status: 'holds'; readonly condition: Condition }
  /** It is over; the alarm returns once that has lasted. */
  | { readonly status: 'clear' }
  /** Its reason is gone for good (the probe was taken out): it returns at once. */
  | { readonly status: 'void'; readonly sentence: string }
  /** Nothing can be said, so nothing changes. */
  | { readonly status: 'unknown' }

/** One kind of alarm: when it arises, and what becomes of an open one. */
export interface Rule {
  readonly kind: AlarmKind
  readonly priority: AlarmPriority
  arises(look: BedLook): readonly Condition[]
  review(alarm: Alarm, look: BedLook): Verdict
  /** What is said when it has returned to normal. */
  readonly returned: string
}
