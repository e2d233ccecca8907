import { BAND_TOLERANCE_PH, LEAST_VALID_DAYS } from '../../agronomy/planning-limits.ts'
import { bandText, ph1 } from '../../analysis/format.ts'
import type { WatchEvent } from '../../analysis/watch/event.ts'
import type { PhBand } from '../../model/bed.ts'
import { changeText, sizeText } from '../amount-words.ts'
import type { BedFacts } from '../bed-facts.ts'
import type { Coming } from '../coming.ts'
import type { Need } from '../need.ts'
import { comingText } from './coming-told.ts'
import { hasNoProbe, type LevelNow } from './level-now.ts'
import { fixed, counted, dayText } from '../../words/figure.ts'
import { say } from '../../words/say.ts'

/** What can be said while a sudden change of the bed is not settled. */
export function suddenSentence({ bed, zone }: BedFacts, event: WatchEvent): string {
  return say`${bed.name} changed suddenly on ${dayText(event.onset, zone)}, by ${changeText(event.present)} pH: what it needs cannot be said before that is settled. Put nothing on it until then.`
}

/** Where the bed is, how sure, what it takes. */
export function needSentence(
  facts: BedFacts,
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
  const { bed, study } = facts
  if (level === null && hasNoProbe(facts)) {
    return say`${bed.name} has no probe that measures its pH, so nobody can say whether it needs anything.`
  }
  if (study === null) {
    return say`${bed.name}: its days have not been gone through yet; that is done soon after the hub has started, and once a day. Look again later.`
  }
  if (level === null) {
    return say`${bed.name}: no valid day of pH in the last 30 days, so nobody can say whether it needs anything. Let its probes run in moist soil for two weeks.`
  }
  const at = say`${bed.name} is at pH ${ph1(level.value)} (${ph1(level.low)} to ${ph1(level.high)}, ${counted(level.days, 'valid day')})`
  if (band === null) return say`${at}; there is no band to hold it against yet.`
  if (level.days < LEAST_VALID_DAYS.value) {
    return say`${at}. That is too few days to decide on: ${LEAST_VALID_DAYS.value} are needed.`
  }
  const against = say`its band ${bandText(band)}`
  const rest = coming === null ? '' : ` ${comingText(coming)}`
  if (verdict === 'cannot tell') {
    return say`${at}, outside ${against}, but so loosely known that it may be well inside. Nothing is put on before it is known better.${rest}`
  }
  if (verdict === 'none') {
    const out = level.value < band.low || level.value > band.high
    if (!out) return say`${at}, inside ${against}. It needs nothing: keep it as it is.${rest}`
    const near =
      Math.max(band.low - level.value, level.value - band.high) <= BAND_TOLERANCE_PH.value
    return near
      ? say`${at}, so near to ${against} that it counts as inside. It needs nothing: correcting too much does more harm.${rest}`
      : say`${at}, outside ${against}, but what went on is still at work.${rest} Wait and measure again.`
  }
  const smaller =
    from === level.value
      ? ''
      : ` ${say`By the newest sample it is at ${ph1(from!)} now; the smaller way counts.`}`
  if (change === 0) {
    return verdict === 'raise'
      ? say`${at}, below ${against}.${smaller} That would need nothing: another sample has to tell.${rest}`
      : say`${at}, above ${against}.${smaller} That would need nothing: another sample has to tell.${rest}`
  }
  return verdict === 'raise'
    ? say`${at}, below ${against}.${smaller} It takes ${sizeText(change)} up to come to ${ph1(aim!)}.${rest}`
    : say`${at}, above ${against}.${smaller} It takes ${sizeText(change)} down to come to ${ph1(aim!)}.${rest}`
}

/** What the sentence rests on. */
export function needGrounds(
  { study }: BedFacts,
  level: LevelNow | null,
  coming: Coming | null,
): readonly string[] {
  return [
    ...(level === null
      ? []
      : [
          say`Median of the last ${counted(level.days, 'valid day')} within 30 days; 90 % interval plus or minus ${fixed(level.half90, 2)}, which holds what the spots have in common.`,
        ]),
    ...(study === null || study.days.needed.spots === 0
      ? []
      : [
          say`${counted(study.days.needed.spots, 'spot')} with a probe; ${study.days.needed.needed} would tell the bed to within 0.2.`,
        ]),
    ...(coming === null
      ? []
      : [
          say`What earlier treatments still have to do is reckoned from their amounts, their strength and how this bed holds its pH.`,
        ]),
  ]
}
