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
  /**
   * Of a wait with a date: a plan may be made now that begins then (the soil has to warm up). Left out: once the wait
   * is over it has to be measured again, and no amount is told before.
   */
  readonly later?: true
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

/** True when a plan may be made now, if need be one that begins later. */
export function mayPlan(told: readonly Told[]): boolean {
  return told.every(
    ({ effect, until, later }) =>
      effect !== 'refuse' &&
      effect !== 'ask' &&
      (effect !== 'wait' || (later === true && until !== null)),
  )
}

const GRAVITY: Readonly<Record<Told['effect'], number>> = {
  refuse: 0,
  ask: 1,
  wait: 2,
  limit: 3,
  warn: 4,
  tell: 5,
}

/** Gravest first; within one gravity in the order they came. */
export function byGravity(told: readonly Told[]): readonly Told[] {
  return told.toSorted((a, b) => GRAVITY[a.effect] - GRAVITY[b.effect])
}

/** A `Told` with what is usual left out. */
export function tell(
  effect: Told['effect'],
  sentence: string,
  reason: string,
  sources: readonly string[],
  more: Partial<Pick<Told, 'until' | 'settle' | 'later'>> = {},
): Told {
  return { effect, sentence, reason, until: null, settle: null, sources, ...more }
}
