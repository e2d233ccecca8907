import type { TrialPlan } from '../../../../hub/api/schemas/trial.ts'
import { daysWords } from '../../doubt.ts'
import { num, whole } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { Facts, Why } from '../findings/finding.tsx'

/** What a layout of beds can show, and what it would take. */
export function Plan({
  plan,
  days,
  live = false,
}: {
  plan: TrialPlan
  days: number
  /** Whether the sentence is read out when it changes. */
  live?: boolean
}) {
  const { garden } = useHub()
  const { units } = garden
  return (
    <>
      <p class="sentence" aria-live={live ? 'polite' : undefined}>
        {plan.sentence}
      </p>
      <Facts
        rows={[
          [
            say`Days needed`,
            plan.daysNeeded === null
              ? plan.status === 'ok'
                ? say`more than three years with these beds`
                : null
              : daysWords(plan.daysNeeded, units),
          ],
          [
            say`Beds needed in ${daysWords(days, units)}`,
            plan.bedsNeeded === null ? null : say`${whole(plan.bedsNeeded, units)} on each side`,
          ],
          [
            say`Spots needed`,
            plan.spotsNeeded === null ? null : say`${whole(plan.spotsNeeded, units)} in each bed`,
          ],
        ]}
      />
      {plan.detectable.length > 0 && (
        <table class="narrow">
          <caption>{say`Smallest effect these beds could show`}</caption>
          <thead>
            <tr>
              <th scope="col">{say`After`}</th>
              <th scope="col" class="n">{say`pH`}</th>
            </tr>
          </thead>
          <tbody>
            {plan.detectable.map((row) => (
              <tr key={row.days}>
                <td>{daysWords(row.days, units)}</td>
                <td class="n">{num(row.effect, 2, units)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      <Why of={say`the plan`} grounds={plan.grounds} />
    </>
  )
}
