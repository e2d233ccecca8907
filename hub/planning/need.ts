import { AIM_INSIDE_PH, BAND_TOLERANCE_PH, LEAST_VALID_DAYS } from '../agronomy/planning-limits.ts'
import { bandFor } from '../analysis/band.ts'
import { bandText, counted, listed, ph1 } from '../analysis/format.ts'
import type { PhBand } from '../model/bed.ts'
import type { SampleMethod } from '../model/journal.ts'
import { changeText, sizeText } from './amount-words.ts'
import type { BedFacts } from './bed-facts.ts'
import { capital } from './capital.ts'
import { type Coming, comingOf } from './coming.ts'
import { bandTold } from './need/band-told.ts'
import { confirmationOf, levelBySample, offsetGround, sampleGround } from './need/confirm-level.ts'
import { confirmationTold } from './need/confirmation-told.ts'
import { type LevelNow, levelNow } from './need/level-now.ts'
import { levelTold } from './need/level-told.ts'
import { measuringTold } from './need/measuring-told.ts'
import { byGravity, tell, type Told } from './told.ts'

export const NEEDS = ['raise', 'lower', 'none', 'cannot tell', 'no band'] as const

/** Whether a bed needs its pH moved, and what has to be known before anything is put on. */
export interface Need {
  readonly verdict: (typeof NEEDS)[number]
  /** Median of the last valid days with its 95 % interval, pH, and how many days; null without any. */
  readonly ph: {
    readonly value: number
    readonly low: number
    readonly high: number
    readonly days: number
  } | null
  /** The level the way is reckoned from, pH: that of the days, or by the confirming sample where that needs less. */
  readonly from: number | null
  readonly band: PhBand | null
  /** Where to go, pH; null without a band. */
  readonly target: number | null
  /** Signed way from there to the target, pH, less what is still to come; 0 when nothing is needed. */
  readonly change: number
  /** What earlier treatments are still expected to do, signed pH; null when nothing is at work. */
  readonly coming: { readonly low: number; readonly value: number; readonly high: number } | null
  /** The newest sample by hand or laboratory that is young enough to confirm the probes; null without one. */
  readonly confirmation: {
    readonly entryId: number
    readonly at: number
    readonly ph: number
    readonly method: SampleMethod
    /** Sample minus bed value of those days after what is usual for the method, pH; null when not comparable. */
    readonly apart: number | null
  } | null
  /** What is missing before a dose, and what else speaks against one; a note of the usual order last. */
  readonly told: readonly Told[]
  readonly sentence: string
  readonly grounds: readonly string[]
}

/** @param target the gardener's own aim inside the band, pH; null: just inside the near edge */
export function needOf(facts: BedFacts, target: number | null): Need {
  const view = bandFor(facts.bed)
  const level = levelNow(facts)
  const confirmation = confirmationOf(facts)
  const coming = comingOf(facts)
  const standing = view.band === null ? null : standingOf(level, view.band, coming)
  const verdict = standing ?? 'no band'
  const aim = view.band === null ? null : aimOf(view.band, level, target)
  const moves = verdict === 'raise' || verdict === 'lower'
  const way = verdict === 'raise' ? 1 : -1
  const bySample = level === null ? null : levelBySample(facts, level.value, confirmation)
  const from = level === null ? null : moves ? nearerOf(level.value, bySample, way) : level.value
  const change =
    moves && aim !== null && from !== null
      ? way * Math.max(0, way * (aim - from) - Math.abs(alongTheWay(coming, way)))
      : 0
  const told = byGravity([
    ...bandTold(facts, view, target),
    ...levelTold(facts, level, verdict),
    ...measuringTold(facts),
    ...overshoot(facts, level, view.band, coming),
    ...(moves ? confirmationTold(facts, view.band, verdict, confirmation, bySample) : []),
  ])
  return {
    verdict,
    ph:
      level === null ? null : (({ value, low, high, days }) => ({ value, low, high, days }))(level),
    from,
    band: view.band,
    target: aim,
    change,
    coming: coming === null ? null : { low: coming.low, value: coming.value, high: coming.high },
    confirmation,
    told: [...told, USUAL_ORDER],
    sentence: sentenceOf(facts, { verdict, level, from, band: view.band, aim, change, coming }),
    grounds: [
      view.sentence,
      ...groundsOf(facts, level, coming),
      ...sampleGround(facts, confirmation),
      ...offsetGround(facts),
    ],
  }
}

const USUAL_ORDER = tell(
  'tell',
  'The usual order: measure, then bring the pH where it should be, then fertilise.',
  'What plants can take up of a fertiliser depends on the pH, and fertiliser itself moves the reading for weeks.',
  ['MEM'],
)

/** What is on its way already may be too much. */
function overshoot(
  { bed }: BedFacts,
  level: LevelNow | null,
  band: PhBand | null,
  coming: Coming | null,
): readonly Told[] {
  if (level === null || band === null || coming === null) return []
  const later = level.value + coming.value
  const past = coming.value > 0 ? later - band.high : band.low - later
  if (past <= 0 || Math.abs(coming.value) < NOTHING_PH) return []
  return [
    tell(
      'warn',
      `What went on ${bed.name} earlier is expected to bring it to about pH ${ph1(later)}, outside its band ${bandText(band)}: put on nothing more, and nothing against it before the change has come and was measured.`,
      'An overshoot takes years to undo; fighting one with its opposite leaves salt.',
      ['ERA_PG'],
    ),
  ]
}

/** Apart by less than this the two say the same, pH. */
const SAME_PH = 0.1

/** Of what the probes and what the sample say, the one that needs less. */
function nearerOf(level: number, bySample: number | null, way: 1 | -1): number {
  return bySample !== null && way * (bySample - level) > SAME_PH ? bySample : level
}

/** Less than this is as good as nothing, pH. */
const NOTHING_PH = 0.03

function comingText({ low, value, high }: Coming): string {
  return Math.abs(value) < NOTHING_PH
    ? `may still move it by up to ${sizeText(Math.max(-low, high))}`
    : `is expected to move it by another ${changeText(value)} (${changeText(low)} to ${changeText(high)})`
}

/** What is to come the same way counts against the dose; what works against it is waited for, not dosed for. */
function alongTheWay(coming: Coming | null, way: 1 | -1): number {
  return coming !== null && coming.value * way > 0 ? coming.value : 0
}

/** Just inside the near edge, never past the middle of the band; the gardener's own aim where it lies inside. */
function aimOf(band: PhBand, level: LevelNow | null, own: number | null): number {
  if (own !== null && own >= band.low && own <= band.high) return own
  const middle = (band.low + band.high) / 2
  const below = level === null || level.value < middle
  return below
    ? Math.min(middle, band.low + AIM_INSIDE_PH.value)
    : Math.max(middle, band.high - AIM_INSIDE_PH.value)
}

/**
 * Outside is called outside when all of the 90 % interval lies there, or the median by more than the tolerance and the
 * interval does not reach so far in that the bed may well be where it should be.
 */
function standingOf(
  level: LevelNow | null,
  band: PhBand,
  coming: Coming | null,
): Exclude<Need['verdict'], 'no band'> {
  if (level === null || level.days < LEAST_VALID_DAYS.value) return 'cannot tell'
  const { value, half90 } = level
  const below = band.low - value
  const above = value - band.high
  const out = Math.max(below, above)
  if (out <= 0) return 'none'
  const wholly = half90 < out
  if (!wholly && out <= BAND_TOLERANCE_PH.value) return 'none'
  const inside = Math.min(AIM_INSIDE_PH.value, (band.high - band.low) / 2)
  if (!wholly && half90 - out > inside) return 'cannot tell'
  // What is on its way already may be enough.
  const way = below > 0 ? 'raise' : 'lower'
  const later = value + alongTheWay(coming, below > 0 ? 1 : -1)
  const enough = way === 'raise' ? later >= band.low : later <= band.high
  return enough ? 'none' : way
}

function sentenceOf(
  { bed, study }: BedFacts,
  {
    verdict,
    level,
    from,
    band,
    aim,
    change,
    coming,
  }: {
    verdict: Need['verdict']
    level: LevelNow | null
    from: number | null
    band: PhBand | null
    aim: number | null
    change: number
    coming: Coming | null
  },
): string {
  if (study === null) {
    return `${bed.name}: its days have not been gone through yet; that is done soon after the hub has started, and once a day. Look again later.`
  }
  if (level === null) {
    return `${bed.name}: no valid day of pH in the last 30 days, so nobody can say whether it needs anything. Let its probes run in moist soil for two weeks.`
  }
  const at = `${bed.name} is at pH ${ph1(level.value)} (${ph1(level.low)} to ${ph1(level.high)}, ${counted(level.days, 'valid day')})`
  if (band === null) return `${at}; there is no band to hold it against yet.`
  if (level.days < LEAST_VALID_DAYS.value) {
    return `${at}. That is too few days to decide on: ${LEAST_VALID_DAYS.value} are needed.`
  }
  const against = `its band ${bandText(band)}`
  const rest =
    coming === null
      ? ''
      : ` ${capital(listed(Array.from(new Set(coming.from.map(({ row }) => row.name)))))} put on earlier ${comingText(coming)}.`
  if (verdict === 'cannot tell') {
    return `${at}, outside ${against}, but so loosely known that it may be well inside. Nothing is put on before it is known better.${rest}`
  }
  if (verdict === 'none') {
    const out = level.value < band.low || level.value > band.high
    if (!out) return `${at}, inside ${against}. It needs nothing: keep it as it is.${rest}`
    const near =
      Math.max(band.low - level.value, level.value - band.high) <= BAND_TOLERANCE_PH.value
    return near
      ? `${at}, so near to ${against} that it counts as inside. It needs nothing: correcting too much does more harm.${rest}`
      : `${at}, outside ${against}, but what went on is still at work.${rest} Wait and measure again.`
  }
  const smaller =
    from === level.value
      ? ''
      : ` By the sample that confirms it the bed is at ${ph1(from!)} now; the smaller way counts.`
  return `${at}, ${verdict === 'raise' ? 'below' : 'above'} ${against}.${smaller} It takes ${sizeText(change)} ${verdict === 'raise' ? 'up' : 'down'} to come to ${ph1(aim!)}.${rest}`
}

function groundsOf(
  { study }: BedFacts,
  level: LevelNow | null,
  coming: Coming | null,
): readonly string[] {
  return [
    ...(level === null
      ? []
      : [
          `Median of the last ${counted(level.days, 'valid day')} within 30 days; 90 % interval plus or minus ${level.half90.toFixed(2)}, which holds what the spots have in common.`,
        ]),
    ...(study === null || study.days.needed.spots === 0
      ? []
      : [
          `${counted(study.days.needed.spots, 'spot')} with a probe; ${study.days.needed.needed} would tell the bed to within 0.2.`,
        ]),
    ...(coming === null
      ? []
      : [
          'What earlier treatments still have to do is reckoned from their amounts, their strength and how this bed holds its pH.',
        ]),
  ]
}
