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
import { say, toSay } from '../../say.ts'

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
    return running.verdict === 'not begun' ? say`A plan is ready` : say`A plan is at work`
  }
  if (running !== null) return running.stop === 'reached' ? say`It has arrived` : say`Stop here`
  switch (need.verdict) {
    case 'none':
      return say`It needs nothing`
    case 'cannot tell':
      return say`Measure first`
    case 'no band':
      return say`It has no band yet`
    case 'raise':
    case 'lower': {
      const by = num(Math.abs(need.change), 1, units)
      const yet = missingOf(need).length === 0
      if (need.verdict === 'raise') {
        return yet ? say`Raise it by ${by}` : say`Raise it by ${by}, but not yet`
      }
      return yet ? say`Lower it by ${by}` : say`Lower it by ${by}, but not yet`
    }
  }
}

export const TOLD_WORDS: Readonly<Record<ToldView['effect'], string>> = {
  refuse: toSay('No'),
  ask: toSay('First'),
  wait: toSay('Wait'),
  limit: toSay('At most'),
  warn: toSay('Take care'),
  tell: toSay('Good to know'),
}

/** What the button says that puts it right on the spot. */
export const SETTLE_WORDS: Readonly<Record<Settle, string>> = {
  sample: toSay('Write a sample down'),
  'bed form': toSay('Change the bed'),
  'soil form': toSay('Say how the soil is'),
  'vinegar test': toSay('Do the vinegar test'),
  'jar test': toSay('Do the jar test'),
  calibrate: toSay('Calibrate its probes'),
}

export const FOLLOW_WORDS: Readonly<Record<PlanView['verdict'], string>> = {
  'not begun': toSay('not begun'),
  'too early': toSay('too early to judge'),
  'as expected': toSay('as expected'),
  'more than expected': toSay('more than expected'),
  'less than expected': toSay('less than expected'),
  'no response': toSay('no response'),
  'cannot tell': toSay('cannot be told yet'),
}

/** What a part of the buffering rests on. */
export const BUFFERING_WORDS: Readonly<
  Record<NonNullable<Decision['buffering']>['parts'][number]['kind'], string>
> = {
  'treatments here': toSay('treatments here'),
  'jar test': toSay('jar test'),
  laboratory: toSay('laboratory'),
  texture: toSay('texture'),
}

export const ENDING_WORDS: Readonly<Record<NonNullable<PlanView['ending']>, string>> = {
  reached: toSay('the bed came to where it should be'),
  stopped: toSay('stopped before its end'),
  'given up': toSay('given up'),
}

/** How much a part of the buffering counts, in words. */
export function weightWords(weight: number): string {
  if (weight >= 0.995) return say`all of it`
  if (weight >= 0.6) return say`counts most`
  if (weight >= 0.3) return say`counts much`
  return weight >= 0.1 ? say`counts a little` : say`hardly counts`
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
  return say`${dateOnly(fullFrom, where)} to ${dateOnly(fullBy, where)}`
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
