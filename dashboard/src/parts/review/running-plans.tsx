import type { PlanView } from '../../../../hub/api/schemas/planning.ts'
import { dateOnly } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { Link } from '../link.tsx'
import { portionText } from '../../weight-words.ts'

/** The next step of a plan in a few words. */
function Step({ plan }: { plan: PlanView }) {
  const { garden } = useHub()
  if (plan.stop === 'reached') return <strong>{say`Nothing more is needed`}</strong>
  if (plan.stop === 'stopped') return <strong>{say`Put nothing more on`}</strong>
  const { next } = plan
  if (next === null) return <strong>{say`No portion ahead`}</strong>
  return (
    <>
      <strong>{say`Portion ${next.stage + 1} of ${plan.stages.length}: ${portionText(next.amountG, garden.units)}, from ${dateOnly(next.dueAt, garden)} on`}</strong>
    </>
  )
}

/** Plans that run, each with its next step. */
export function RunningPlans({ plans }: { plans: readonly PlanView[] }) {
  if (plans.length === 0) {
    return (
      <p class="faint">{say`No plan runs. Whether a bed needs one is told under ‘Decide what to do’, bed by bed.`}</p>
    )
  }
  return (
    <ul class="plans">
      {plans.map((plan) => (
        <li key={plan.id} data-plan={plan.id}>
          <h3>
            <Link to={{ page: 'plan', id: plan.bedId }}>{say`${plan.name} in ${plan.bed}`}</Link>
          </h3>
          <p>
            <Step plan={plan} />
          </p>
          <p class="sentence">{plan.sentence}</p>
          {plan.next !== null && !plan.sentence.includes(plan.next.sentence) && (
            <p class="sentence">{plan.next.sentence}</p>
          )}
        </li>
      ))}
    </ul>
  )
}
