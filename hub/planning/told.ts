/** What a rule of the trade has to say about a bed or a material. */
export interface Told {
  /**
   * `refuse`: not at all; `wait`: not before `until`; `ask`: something has to be known or measured first; `limit`: only
   * so much; `warn`: possible, at a risk; `tell`: good to know.
   */
  readonly effect: 'refuse' | 'wait' | 'ask' | 'limit' | 'warn' | 'tell'
  /** What holds for this bed, and what to do next. */
  readonly sentence: string
  /** Why, in a sentence. */
  readonly reason: string
  /** `wait`: epoch ms; null where no date can be given (the soil has to warm up). */
  readonly until: number | null
  /** Where the gardener can put it right; null: nowhere, it is as it is. */
  readonly settle: Settle | null
  /** Ids of the publications; `MEM` stands for common practice without a source. */
  readonly sources: readonly string[]
}

/** What a gardener can do about it on the page. */
export const SETTLES = [
  'sample',
  'bed form',
  'soil form',
  'vinegar test',
  'jar test',
  'calibrate',
] as const
export type Settle = (typeof SETTLES)[number]

/** True when nothing in the list keeps a dose from being given now. */
export function isFree(told: readonly Told[]): boolean {
  return told.every(({ effect }) => effect !== 'refuse' && effect !== 'wait' && effect !== 'ask')
}
