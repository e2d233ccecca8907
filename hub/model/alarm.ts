/** States of an alarm; terms of alarm-management practice (ISA-18.2 / IEC 62682, from memory). */
export const ALARM_STATES = ['normal', 'unacknowledged', 'acknowledged', 'returned'] as const
/** `returned`: back to normal, but nobody has acknowledged that it happened. */
export type AlarmState = (typeof ALARM_STATES)[number]

export const ALARM_KINDS = [
  'harmful-shift',
  'early-warning',
  'probe-check',
  'dry',
  'waterlogged',
] as const
export type AlarmKind = (typeof ALARM_KINDS)[number]

/** Why an alarm stands: data first, sentences made from it. */
export interface AlarmEvidence {
  /** Level before, pH. */
  readonly from: number | null
  /** Level now, pH. */
  readonly to: number | null
  /** Signed change, pH, and the half-width of its 90 % interval. */
  readonly change: number | null
  readonly changeHalfWidth: number | null
  /** When the change began, as well as it can be told, epoch ms. */
  readonly since: number | null
  /** Names of the spots that moved, and of those that did not. */
  readonly spotsMoved: readonly string[]
  readonly spotsSteady: readonly string[]
  /** Probability from 0 to 1 that the change is real and beyond the limit. */
  readonly sureness: number | null
  /** Journal entry that may explain it. */
  readonly journalId: number | null
  /** Most likely cause of a change of pH; null where it is not about one. */
  readonly cause: string | null
  /** False while that cause is provisional; null where there is none. */
  readonly causeSettled: boolean | null
}

/** One episode: from the moment a condition arose until it returned to normal and was acknowledged. */
export interface Alarm {
  readonly id: number
  readonly bedId: number
  readonly kind: AlarmKind
  /** What it is about within the bed: '' for the bed itself, a probe id for a probe check. */
  readonly subject: string
  readonly state: AlarmState
  readonly raisedAt: number
  readonly acknowledgedAt: number | null
  readonly returnedAt: number | null
  /** The condition has been over since then and the off-delay runs, epoch ms; null while it holds. */
  readonly overSince: number | null
  readonly changedAt: number
  readonly evidence: AlarmEvidence
  /** What happened, in which bed, how sure. */
  readonly sentence: string
  /** What to do next. */
  readonly advice: string
}
