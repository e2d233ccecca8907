import { amendmentOf } from '../../agronomy/amendments.ts'
import type { DoseEffect } from '../../analysis/amendment/dose-effect.ts'
import { capital } from '../capital.ts'
import type { Interval3 } from '../interval3.ts'
import type { ReviewedTreatment } from '../review.ts'
import { fixed, localized } from '../../words/figure.ts'
import { said, say } from '../../words/say.ts'

/** What a treatment did, how long it stays, what it was worth; and that it was none, where it leaves pH alone. */
export function treatmentSentence(
  material: string,
  effect: DoseEffect | null,
  months: Interval3 | null,
  cost: ReviewedTreatment['cost'],
): string {
  const row = amendmentOf(material)
  const aside =
    row?.direction === 'none' || row?.direction === 'unclear'
      ? `${capital(row.name)}: ${row.note.charAt(0).toLowerCase()}${row.note.slice(1)}`
      : ''
  if (effect === null)
    return aside || say`${capital(said(material))}: nothing can be said of it yet.`
  const parts = [aside, effect.sentence, onsetWords(effect)]
  if (months !== null) {
    parts.push(
      say`So far that is ${fixed(months.value, 1)} pH months (${fixed(months.low, 1)} to ${fixed(months.high, 1)}).`,
    )
  }
  if (cost !== null) {
    const [value, low] = [money(cost.value), money(cost.low)]
    parts.push(
      cost.high === null
        ? say`One pH for one month has cost ${value} ${cost.currency} (${low} or much more); it gets cheaper as long as the effect lasts.`
        : say`One pH for one month has cost ${value} ${cost.currency} (${low} to ${money(cost.high)}); it gets cheaper as long as the effect lasts.`,
    )
  }
  return parts.filter((part) => part !== '').join(' ')
}

function onsetWords({ verdict, onsetDays }: DoseEffect): string {
  if (verdict !== 'effect' || onsetDays === null || onsetDays.value === null) return ''
  const [value, low, high] = [onsetDays.value, onsetDays.low ?? 0, onsetDays.high ?? Infinity]
  // Within a week it can only be told that it was soon.
  if (high <= 7) return say`It began within days.`
  const most = Number.isFinite(high) ? `${Math.round(high)}` : say`more`
  return say`It began about ${Math.round(value)} days after (${Math.round(low)} to ${most}).`
}

/** Two digits at least of what is small, cents of what is not. */
function money(value: number): string {
  return Math.abs(value) < 0.1
    ? localized(Number(value.toPrecision(2)).toString())
    : fixed(value, 2)
}
