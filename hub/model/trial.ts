export const CLAIM_DIRECTIONS = ['raises', 'lowers', 'changes'] as const
export type ClaimDirection = (typeof CLAIM_DIRECTIONS)[number]

/**
 * A claim put to the test: treated beds against untreated ones. What is claimed and how long it runs are fixed
 * when it starts, so that nobody stops at the moment that pleases.
 */
export interface Trial {
  readonly id: number
  /** The lore in the gardener's words. */
  readonly claim: string
  readonly direction: ClaimDirection
  /** What is put on. */
  readonly material: string
  /** The smallest change of pH that would matter, pH, positive. */
  readonly leastEffect: number
  readonly treated: readonly number[]
  readonly untreated: readonly number[]
  /** When it was put on, epoch ms; may lie ahead while the trial is planned. */
  readonly startsAt: number
  /** How long it runs, days. */
  readonly days: number
  readonly createdAt: number
  /** Given up before its end, epoch ms; null otherwise. */
  readonly givenUpAt: number | null
}
export type NewTrial = Omit<Trial, 'id' | 'createdAt' | 'givenUpAt'>
