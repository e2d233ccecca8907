import type { MannerName } from './manner.ts'

/** States of an alarm; terms of alarm-management practice (ISA-18.2 / IEC 62682, from memory). */
export const ALARM_STATES = ['normal', 'unacknowledged', 'acknowledged', 'returned'] as const
/** `returned`: back to normal, but nobody has acknowledged that it happened. */
export type AlarmState = (typeof ALARM_STATES)[number]

export const ALARM_KINDS = [
  'harmful-shift',
  'early-warning',
  'drift-out',
  'out-of-band',
  'dry',
  'waterlogged',
  'probe-check',
  'probe-silent',
  'calibration-due',
  'battery-low',
  'hub-trouble',
] as const
export type AlarmKind = (typeof ALARM_KINDS)[number]

/** How soon somebody should act: today, within days, when next at the bed. */
export const ALARM_PRIORITIES = ['low', 'medium', 'high'] as const
export type AlarmPriority = (typeof ALARM_PRIORITIES)[number]

/** Names of single figures an alarm may rest on. */
export const ALARM_FIGURES = [
  'level',
  'band-low',
  'band-high',
  'chance',
  'leaves-at',
  'supply',
  'supply-limit',
  'interval',
  'awaited-at',
  'calibrated-at',
  'due-at',
  'free',
  'full-at',
] as const

/** A figure with its doubt. Units: pH, `1` (a share), V, %, bytes, ms; `at`: a time, epoch ms. */
export interface AlarmFigure {
  readonly what: (typeof ALARM_FIGURES)[number]
  readonly value: number
  /** Half-width of its 95 % interval; null: none is told. */
  readonly halfWidth: number | null
  readonly unit: 'pH' | '1' | 'V' | '%' | 'bytes' | 'ms' | 'at'
}

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
  /** What else it rests on. @default none */
  readonly figures?: readonly AlarmFigure[]
}

/** What a person reads of an alarm. */
export interface AlarmText {
  /** What happened, in which bed, how sure. */
  readonly sentence: string
  /** What to do next. */
  readonly advice: string
}

/** The same by language and units; in US units only where that differs. */
export type AlarmTexts = Readonly<Partial<Record<MannerName, AlarmText>>>

/** One episode: from the moment a condition arose until it returned to normal and was acknowledged. */
export interface Alarm extends AlarmText {
  readonly id: number
  /** Null: about the hub, or a probe that sits in no bed. */
  readonly bedId: number | null
  readonly kind: AlarmKind
  /** What it is about: '' for the bed itself, a probe id, or a part of the hub (`disk`, `broker` …). */
  readonly subject: string
  readonly priority: AlarmPriority
  readonly state: AlarmState
  readonly raisedAt: number
  readonly acknowledgedAt: number | null
  readonly returnedAt: number | null
  /** The condition has been over since then and the off-delay runs, epoch ms; null while it holds. */
  readonly overSince: number | null
  /** Kept out of sight and out of messages until then, epoch ms; whatever its state is. */
  readonly shelvedUntil: number | null
  readonly changedAt: number
  readonly evidence: AlarmEvidence
  /** In every manner. @default none: raised by an older hub, which kept the texts of one manner only */
  readonly texts?: AlarmTexts
}

/**
 * What happened to an alarm. `raised`: also when the condition came back before anybody had acknowledged;
 * `changed`: evidence or words; `returned`: the condition is over (`normal` at once when it had been
 * acknowledged); `closed`: ended because its reason is gone or another alarm stands for it.
 */
export const ALARM_CHANGES = [
  'raised',
  'changed',
  'acknowledged',
  'returned',
  'closed',
  'shelved',
  'unshelved',
  'noted',
] as const
export type AlarmChangeKind = (typeof ALARM_CHANGES)[number]

/** One kept change of an alarm. */
export interface AlarmChange {
  /** Ascending, never given twice. */
  readonly id: number
  readonly alarmId: number
  /** Epoch ms. */
  readonly at: number
  readonly what: AlarmChangeKind
  /** Who; null: the hub, or somebody without a name. */
  readonly by: string | null
  readonly note: string
  /** As it was then. */
  readonly alarm: Alarm
}

/** An alarm as it is from now on, with what happened to it. */
export interface AlarmStep {
  /** Id 0: a new episode. */
  readonly alarm: Alarm
  readonly at: number
  /** Null: only the hub's own bookkeeping; no change is kept of it. */
  readonly what: AlarmChangeKind | null
  readonly by: string | null
  readonly note: string
}
