/** What most likely made a reading change its level. */
export const CAUSES = [
  /** All spots that can be compared moved, and nothing written down or seen explains it. */
  'soil',
  /** All spots moved, and a logged treatment that works this way explains it. */
  'treatment',
  /** Rain, irrigation or a jump of soil temperature; usually comes back by itself. */
  'water',
  /** A calibration or service of the probe, logged or seen by its handling. */
  'service',
  /** One probe left the others. */
  'probe',
  /** The soil around the electrode is too dry to carry it. */
  'dry contact',
  /** One spot alone in its bed: soil and electrode cannot be told apart. */
  'unconfirmed',
] as const
export type Cause = (typeof CAUSES)[number]

/** One spot within an event. */
export interface SpotMove {
  readonly spotId: number
  readonly probe: string
  /** Level before the event, pH, and the change since, pH, signed. */
  readonly before: number
  readonly change: number
  readonly moved: boolean
}

/** Facts behind the cause, as data. NaN or null: not known. */
export interface CauseEvidence {
  /** Lowest share of available water around the onset. */
  readonly leastAvailable: number
  /** Rise of moisture around the onset, share of field capacity. */
  readonly wetting: number
  /** Change of soil temperature against its own usual hour, degrees Celsius. */
  readonly warming: number
  /** The service that explains it, epoch ms, and whether it was logged or only seen. */
  readonly serviceAt: number | null
  readonly serviceLogged: boolean
  /** Treatment that may explain it, and whether the change is within what one treatment should do (1 pH). */
  readonly journalId: number | null
  readonly withinPlan: boolean | null
  /** Other beds that moved the same way within a day. */
  readonly otherBeds: readonly number[]
}

/** A change of level, from its first sign to its end. */
export interface WatchEvent {
  /** Unique within the bed and the same however often history is gone through: form, onset, spot. */
  readonly id: string
  readonly bedId: number
  /** `step`: within hours; `ramp`: over days, up to 30. */
  readonly form: 'step' | 'ramp'
  /** When it began, as well as it can be told, and when it was noticed, epoch ms. */
  readonly onset: number
  readonly noticedAt: number
  /** Cause when noticed, cause now, and when the latter was settled (a day later; water may be revised later still). */
  readonly firstCause: Cause
  readonly cause: Cause
  readonly decidedAt: number | null
  /** Signed change, pH, its standard error, and the change that is left at the latest hour. */
  readonly size: number
  readonly sizeSe: number
  readonly present: number
  readonly spots: readonly SpotMove[]
  readonly evidence: CauseEvidence
  /** `recovered`: back within 0.25; `kept`: the new level has become the normal. */
  readonly state: 'open' | 'recovered' | 'kept'
  readonly endedAt: number | null
}
