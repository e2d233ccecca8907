import type { Decision, PlanView } from '../../../../hub/api/schemas/planning.ts'
import type { PlanEnding } from '../../../../hub/model/plan.ts'
import { api } from '../../api.ts'
import { phChangeWriter, phWriter, withDoubt } from '../../doubt.ts'
import { dateOnly } from '../../format.ts'
import type { Units } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { Facts, Why } from '../findings/finding.tsx'
import { FormProblem, useSend } from '../field.tsx'
import { Confirm } from '../form.tsx'
import { CourseFigure } from './course-figure.tsx'
import { changeRange } from './dose-words.ts'
import { EntryPhoto } from './entry-photo.tsx'
import { ENDING_WORDS, FOLLOW_WORDS, fullWords } from './plan-words.ts'
import { PutOn } from './put-on.tsx'
import { Question } from './question.tsx'
import { portionText, weightText } from '../../weight-words.ts'

interface PlanProps {
  readonly plan: PlanView
  readonly band: Decision['need']['band']
  readonly now: number
}

/** The plan that runs: how it goes, what comes next, and its end. */
export function Running({ onChanged, ...props }: PlanProps & { readonly onChanged: () => void }) {
  const { plan } = props
  const { problem, send } = useSend()
  const end = (ending: PlanEnding): void =>
    send(async () => {
      await api.closePlan(plan.id, ending)
      onChanged()
    })
  return (
    <Question id="running" title={say`The plan at work`}>
      <p class="sentence">{plan.sentence}</p>
      <Causes plan={plan} />
      <PutOn plan={plan} onDone={onChanged} />
      {plan.stop !== null && (
        <p>
          <button
            data-needs="change"
            type="button"
            class="main"
            onClick={() => end(plan.stop ?? 'stopped')}
          >{say`End the plan`}</button>
        </p>
      )}
      <HowItGoes {...props} />
      <FormProblem problem={problem} fields={[]} />
      <p>
        <Confirm
          words={say`Give the plan up`}
          ask={say`Give this plan up? What went on stays in the journal.`}
          onYes={() => end('given up')}
        />
      </p>
    </Question>
  )
}

function Causes({ plan: { causes } }: Pick<PlanProps, 'plan'>) {
  if (causes.length === 0) return null
  return (
    <>
      <h3>{say`What may be behind it, likeliest first`}</h3>
      <ol class="steps">
        {causes.map((cause) => (
          <li key={cause}>{cause}</li>
        ))}
      </ol>
    </>
  )
}

/** Measured against predicted, portion by portion. */
function HowItGoes({ plan, band, now }: PlanProps) {
  const { garden } = useHub()
  const { units } = garden
  const samples = plan.stages.flatMap(({ before, after }) =>
    [...(before?.samples ?? []), ...(after?.samples ?? [])].flatMap(({ id, at, ph }) =>
      ph === null ? [] : [{ id, at, ph }],
    ),
  )
  const once = [...new Map(samples.map((sample) => [sample.id, sample])).values()]
  return (
    <>
      <Facts
        rows={[
          [say`So far`, said(FOLLOW_WORDS[plan.verdict])],
          [
            say`Measured change`,
            plan.measured === null ? null : withDoubt(plan.measured, phChangeWriter(units)),
          ],
          [
            say`Expected by now`,
            plan.predicted === null ? null : withDoubt(plan.predicted, phChangeWriter(units)),
          ],
        ]}
      />
      {plan.course !== null && (
        <CourseFigure
          course={plan.course}
          points={plan.points}
          samples={once}
          portions={plan.stages.map(({ entry, dueAt }) => ({
            at: entry?.at ?? dueAt,
            done: entry !== null,
          }))}
          retests={plan.stages.flatMap(({ retestsAt }) => retestsAt)}
          band={band}
          now={now}
          words={say`expected as a broken line in its shade, the bed day by day as dots, samples as crosses; filled triangles are portions that went on, ticks at the upper edge measuring again`}
        />
      )}
      <div class="scroll">
        <table class="stack">
          <caption>{say`Portions of ${plan.name}`}</caption>
          <thead>
            <tr>
              <th scope="col">{say`When`}</th>
              <th scope="col">{say`On the bed`}</th>
              <th scope="col">{say`Expected change, pH`}</th>
              <th scope="col">{say`Full about`}</th>
              <th scope="col">{say`Measure again`}</th>
              <th scope="col">{say`pH before`}</th>
              <th scope="col">{say`pH after`}</th>
            </tr>
          </thead>
          <tbody>
            {plan.stages.map(({ entry, ...stage }, i) => (
              <tr key={i}>
                <td data-label={say`When`}>
                  {entry === null
                    ? say`from ${dateOnly(stage.dueAt, garden)}`
                    : dateOnly(entry.at, garden)}
                </td>
                <td data-label={say`On the bed`}>
                  {entry === null ? (
                    <>
                      {portionText(
                        plan.next?.stage === i ? plan.next.amountG : stage.amountG,
                        units,
                      )}{' '}
                      <span class="faint">{say`ahead`}</span>
                    </>
                  ) : (
                    <strong>{weightText(entry.amountG ?? stage.amountG, units)}</strong>
                  )}
                  {entry !== null && stage.hasPhoto && (
                    <EntryPhoto entry={entry.id} of={say`portion ${i + 1}`} />
                  )}
                </td>
                <td data-label={say`Expected change, pH`} class="figures">
                  {changeRange(stage.change, units)}
                </td>
                <td data-label={say`Full about`}>{fullWords(stage, garden)}</td>
                <td data-label={say`Measure again`}>
                  {stage.retestsAt.map((at) => dateOnly(at, garden)).join('; ')}
                </td>
                <td data-label={say`pH before`} class="figures">
                  {stage.before?.ph ? withDoubt(stage.before.ph, phWriter(units)) : '–'}
                </td>
                <td data-label={say`pH after`} class="figures">
                  {stage.after?.ph ? withDoubt(stage.after.ph, phWriter(units)) : '–'}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <Why grounds={plan.grounds} of={say`how the plan goes`} />
    </>
  )
}

function pastWords(
  { name, createdAt, closedAt, ending }: PlanView,
  where: { readonly zone: string; readonly units: Units },
): string {
  const kept = dateOnly(createdAt, where)
  const words =
    closedAt === null
      ? say`${name}, kept ${kept}`
      : say`${name}, kept ${kept}, ended ${dateOnly(closedAt, where)}`
  return ending === null ? words : `${words}: ${said(ENDING_WORDS[ending])}`
}

/** Plans that ended, folded. */
export function PastPlans({
  plans,
  ...rest
}: Omit<PlanProps, 'plan'> & { readonly plans: readonly PlanView[] }) {
  const { garden } = useHub()
  if (plans.length === 0) return null
  return (
    <Question id="past-plans" title={say`Plans before`}>
      {plans.map((plan) => (
        <details key={plan.id} class="past">
          <summary>{pastWords(plan, garden)}</summary>
          <p class="sentence">{plan.sentence}</p>
          <HowItGoes plan={plan} {...rest} />
        </details>
      ))}
    </Question>
  )
}
