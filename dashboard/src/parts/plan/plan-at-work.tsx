import { api } from '../../api.ts'
import { useLoad } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { Link } from '../link.tsx'
import './plan.css'
import { PutOn } from './put-on.tsx'

/** The plan that runs on a bed, on the bed's page: how it goes, and its next portion in two taps. */
export function PlanAtWork({ bedId, tick }: { readonly bedId: number; readonly tick: string }) {
  const plans = useLoad(`plans ${bedId}`, (signal) => api.plans(bedId, signal), tick)
  if (plans.problem !== null) {
    return (
      <p
        class="error"
        role="alert"
      >{say`Its plan could not be fetched: ${plans.problem.detail ?? plans.problem.title}.`}</p>
    )
  }
  const running = plans.data?.find(({ closedAt }) => closedAt === null)
  if (running === undefined) return null
  return (
    <section class="sheet plan-at-work" aria-labelledby="plan-at-work">
      <div class="section-head">
        <h2 id="plan-at-work" tabIndex={-1}>{say`Plan at work`}</h2>
        <Link to={{ page: 'plan', id: bedId }}>{say`The whole plan`}</Link>
      </div>
      <p class="sentence">{running.sentence}</p>
      <PutOn plan={running} onDone={plans.reload} />
    </section>
  )
}
