import type { Alarm, AlarmEvidence, AlarmKind, AlarmPriority } from '../../model/alarm.ts'

/** A condition that a look shows. */
export interface Condition {
  /** '' for the bed itself, a probe id, or a part of the hub. */
  readonly subject: string
  readonly evidence: AlarmEvidence
  readonly sentence: string
  readonly advice: string
  /** @default that of the rule */
  readonly priority?: AlarmPriority
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

/** Time and place of a look. */
export interface Look {
  readonly at: number
  /** Null: of the hub, or a probe that sits in no bed. */
  readonly bedId: number | null
}

/**
 * One kind of alarm: when it arises, and what becomes of an open one. The on-delay is part of `arises`, which
 * reads since when a condition holds from the data, so that a restart neither forgets nor shortens it.
 */
export interface Rule<L extends Look> {
  readonly kind: AlarmKind
  readonly priority: AlarmPriority
  /** A condition must stay over for this long before its alarm returns to normal, ms. */
  readonly offDelayMs: number
  arises(look: L): readonly Condition[]
  review(alarm: Alarm, look: L): Verdict
  /** What is said when it has returned to normal; an English text of the catalogue. */
  readonly returned: string
}
