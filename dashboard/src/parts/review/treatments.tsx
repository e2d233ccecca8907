import type { ComponentChildren } from 'preact'
import type { Interval } from '../../../../hub/api/schemas/findings.ts'
import type { ReviewedTreatmentView } from '../../../../hub/api/schemas/review.ts'
import { amountWriter, atMost, daysWriter, phChangeWriter, withDoubt } from '../../doubt.ts'
import { halfLifeWords } from '../../effect-words.ts'
import { dateOnly } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { Why } from '../findings/finding.tsx'
import { WORKED_WORDS, costWords } from './review-words.ts'
import { weightText } from '../../weight-words.ts'

/** A figure of the table; one that is not known is a dash, and left out where rows are stacked. */
function Cell({ label, children }: { label: string; children: ComponentChildren }) {
  return (
    <td data-label={label} class={children === null ? 'none' : undefined}>
      {children ?? '–'}
    </td>
  )
}

function Treatment({ treatment }: { treatment: ReviewedTreatmentView }) {
  const { garden } = useHub()
  const { units } = garden
  const { effect, phMonths, cost, amountG, material } = treatment
  const seen = effect?.verdict === 'effect' ? effect : null
  const days = (x: Interval): string => withDoubt(x, daysWriter(x, units))
  const missed = effect?.verdict === 'no measurable effect' ? effect.notLargerThan : null
  const portions = treatment.entryIds.length
  return (
    <tbody>
      <tr class="figures">
        <th scope="row">
          {said(material)}
          <span class="beside">
            {[
              dateOnly(treatment.at, garden),
              amountG === null ? say`amount not written down` : weightText(amountG, units),
              ...(portions > 1 ? [say`in ${portions} portions`] : []),
            ].join(', ')}
          </span>
        </th>
        <td data-label={say`Worked`} class="nowrap">
          {said(WORKED_WORDS[treatment.worked])}
        </td>
        <Cell label={say`Began after`}>{seen?.onsetDays ? days(seen.onsetDays) : null}</Cell>
        <Cell label={say`Highest`}>
          {seen?.peak ? (
            <>
              {withDoubt(seen.peak, phChangeWriter(units))} pH
              {seen.peakDays !== null && (
                <span class="beside">{say`after ${days(seen.peakDays)}`}</span>
              )}
            </>
          ) : missed === null ? null : (
            say`none larger than ${atMost(missed, units)} pH`
          )}
        </Cell>
        <Cell label={say`Half of it lasts`}>
          {seen === null ? null : halfLifeWords(seen.halfLife, units)}
        </Cell>
        <Cell label={say`pH-months`}>
          {phMonths === null ? null : withDoubt(phMonths, amountWriter(phMonths, '', units))}
        </Cell>
        <Cell label={say`Cost of a pH-month`}>{cost === null ? null : costWords(cost, units)}</Cell>
      </tr>
      <tr class="said">
        <td colSpan={7}>
          <p class="sentence">{treatment.sentence}</p>
          {effect !== null && (
            <Why
              of={`${said(material)}, ${dateOnly(treatment.at, garden)}`}
              grounds={effect.grounds}
            />
          )}
        </td>
      </tr>
    </tbody>
  )
}

/** Treatments of one bed with all that is known of what they did, the newest first. */
export function Treatments({
  treatments,
  bed,
}: {
  treatments: readonly ReviewedTreatmentView[]
  bed: string
}) {
  if (treatments.length === 0) return null
  const newestFirst = treatments.toSorted((a, b) => b.at - a.at)
  return (
    <div class="scroll">
      <table class="stack compared treatments">
        <caption>{say`Treatments of ${bed}, with 95 % intervals. A pH-month is one pH held for one month.`}</caption>
        <thead>
          <tr>
            <th scope="col">{say`Put on`}</th>
            <th scope="col">{say`Worked`}</th>
            <th scope="col">{say`Began after`}</th>
            <th scope="col">{say`Highest`}</th>
            <th scope="col">{say`Half of it lasts`}</th>
            <th scope="col">{say`pH-months`}</th>
            <th scope="col">{say`Cost of a pH-month`}</th>
          </tr>
        </thead>
        {newestFirst.map((treatment) => (
          <Treatment key={treatment.entryIds.join()} treatment={treatment} />
        ))}
      </table>
    </div>
  )
}
