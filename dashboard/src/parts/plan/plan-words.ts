import type { BedView } from '../../../../hub/api/schemas/bed.ts'
import type {
  Decision,
  MaterialOptionView,
  PlanView,
  ToldView,
} from '../../../../hub/api/schemas/planning.ts'
import type { Settle } from '../../../../hub/planning/told.ts'
import { dateOnly, num } from '../../format.ts'
import type { Units } from '../../format.ts'

interface Where {
  readonly zone: string
  readonly units: Units
}

/** What has to be put right before a dose: asked for, or waited for. */
export function missingOf({ told }: { readonly told: readonly ToldView[] }): readonly ToldView[] {
  return told.filter(({ effect }) => effect === 'ask' || effect === 'wait' || effect === 'refuse')
}

/** All of a bed's description that a dose hangs on: another one asks the hub again at once. */
export function describedAs(
  bed: Pick<BedView, 'areaM2' | 'depthM' | 'texture' | 'crops' | 'ownBand'>,
): string {
  const { areaM2, depthM, texture, crops, ownBand } = bed
  return JSON.stringify([areaM2, depthM, texture, crops.map(({ slug }) => slug), ownBand])
}

/** The answer in a few words, for the top of the page. */
export function headline({ need, running }: Decision, units: Units): string {
  if (running !== null && running.stop === null) {
    return running.verdict === 'not begun' ? 'A plan is ready' : 'A plan is at work'
  }
  if (running !== null) return running.stop === 'reached' ? 'It has arrived' : 'Stop here'
  switch (need.verdict) {
    case 'none':
      return 'It needs nothing'
    case 'cannot tell':
      return 'Measure first'
    case 'no band':
      return 'It has no band yet'
    case 'raise':
    case 'lower': {
      const by = num(Math.abs(need.change), 1, units)
      const way = need.verdict === 'raise' ? `Raise it by ${by}` : `Lower it by ${by}`
      return missingOf(need).length > 0 ? `${way}, but not yet` : way
    }
  }
}

export const TOLD_WORDS: Readonly<Record<ToldView['effect'], string>> = {
  refuse: 'No',
  ask: 'First',
  wait: 'Wait',
  limit: 'At most',
  warn: 'Take care',
  tell: 'Good to know',
}

/** What the button says that puts it right on the spot. */
export const SETTLE_WORDS: Readonly<Record<Settle, string>> = {
  sample: 'Write a sample down',
  'bed form': 'Change the bed',
  'soil form': 'Say how the soil is',
  'vinegar test': 'Do the vinegar test',
  'jar test': 'Do the jar test',
  calibrate: 'Calibrate its probes',
}

export const FOLLOW_WORDS: Readonly<Record<PlanView['verdict'], string>> = {
  'not begun': 'not begun',
  'too early': 'too early to judge',
  'as expected': 'as expected',
  'more than expected': 'more than expected',
  'less than expected': 'less than expected',
  'no response': 'no response',
  'cannot tell': 'cannot be told yet',
}

export const ENDING_WORDS: Readonly<Record<NonNullable<PlanView['ending']>, string>> = {
  reached: 'the bed came to where it should be',
  stopped: 'stopped before its end',
  'given up': 'given up',
}

/** How much a part of the buffering counts, in words. */
export function weightWords(weight: number): string {
  if (weight >= 0.995) return 'all of it'
  if (weight >= 0.6) return 'counts most'
  if (weight >= 0.3) return 'counts much'
  return weight >= 0.1 ? 'counts a little' : 'hardly counts'
}

/** Until when a material has to wait, by the latest of its waits; null where no date can be given. */
export function waitsUntil({ told }: Pick<MaterialOptionView, 'told'>): number | null {
  const dates = told.flatMap(({ effect, until }) => (effect === 'wait' ? [until] : []))
  if (dates.length === 0 || dates.includes(null)) return null
  return Math.max(...dates.map((at) => at ?? 0))
}

/** When the effect of a portion is full. */
export function fullWords(
  { fullFrom, fullBy }: { readonly fullFrom: number; readonly fullBy: number },
  where: Where,
): string {
  return `${dateOnly(fullFrom, where)} to ${dateOnly(fullBy, where)}`
}

/** What was told of a material beyond what stands above it for the whole bed. */
export function ownTold(
  option: Pick<MaterialOptionView, 'told'>,
  need: Pick<Decision['need'], 'told'>,
): readonly ToldView[] {
  const known = new Set(need.told.map(({ sentence }) => sentence))
  return option.told.filter(({ sentence }) => !known.has(sentence))
}

/** What was told of a draft: what is new to it, and again what limits it or needs care. */
export function draftTold(
  draft: Pick<MaterialOptionView, 'told'>,
  option: Pick<MaterialOptionView, 'told'>,
  need: Pick<Decision['need'], 'told'>,
): readonly ToldView[] {
  const known = new Set(option.told.map(({ sentence }) => sentence))
  return ownTold(draft, need).filter(
    ({ effect, sentence }) => effect !== 'tell' || !known.has(sentence),
  )
}

/** True when a plan can be drawn up with it, if need be one that begins later. */
export const canDraft = ({ dose, verdict }: MaterialOptionView): boolean =>
  dose !== null && verdict !== 'refused'
