import { useState } from 'preact/hooks'
import type {
  Decision,
  DraftView,
  MaterialOptionView,
} from '../../../../hub/api/schemas/planning.ts'
import { api } from '../../api.ts'
import { dateOnly, num } from '../../format.ts'
import { useHub, useLoad } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { Why } from '../findings/finding.tsx'
import { Field, FormProblem, useSend } from '../field.tsx'
import { Cautions } from './cautions.tsx'
import { CourseFigure } from './course-figure.tsx'
import { changeRange, spreadText } from './dose-words.ts'
import { draftTold, fullWords } from './plan-words.ts'
import { Question } from './question.tsx'
import { labelStrength } from './strength.ts'
import { ToldList } from './told-list.tsx'
import { portionText } from '../../weight-words.ts'

interface DraftPartProps {
  readonly decision: Decision
  readonly option: MaterialOptionView
  readonly target: number | null
  readonly onKept: () => void
}

/** The portions a plan with the chosen material would have, and the button that keeps it. */
export function DraftPart({ decision, option, target, onKept }: DraftPartProps) {
  const { garden } = useHub()
  const { need, bedId } = decision
  const { label, material, name } = option
  const [percent, setPercent] = useState('')
  const { strength, error } = labelStrength(percent, label?.perWhole ?? 1)
  const body = { material, strength, target }
  const key = error === null ? JSON.stringify([bedId, body]) : null
  const answer = useLoad(key, (signal) => api.draftPlan(bedId, body, signal), decision.at)
  const { problem, busy, send } = useSend()
  const { draft = null, refused = [] } = answer.data ?? {}
  const mine = draft?.material === material ? draft : null
  return (
    <Question id="portions" title={say`In portions, with ${name}`}>
      {label !== null && (
        <div class="fields">
          <Field
            label={say`By its label: ${label.words}`}
            type="decimal"
            unit="%"
            hint={say`empty: as usual, with that doubt`}
            value={percent}
            onInput={setPercent}
            error={error}
          />
        </div>
      )}
      {answer.problem !== null && (
        <p
          class="error"
          role="alert"
        >{say`The portions could not be reckoned: ${answer.problem.detail ?? answer.problem.title}.`}</p>
      )}
      {refused.length > 0 && (
        <>
          <p class="sentence">{say`No plan can be made with it now.`}</p>
          <ToldList told={refused} label={say`Why there is no plan`} />
        </>
      )}
      {answer.data === null && answer.problem === null && (
        <p class="quiet-line">{say`Reckoning the portions …`}</p>
      )}
      {mine !== null && (
        <>
          <p class="sentence">{mine.sentence}</p>
          <CourseFigure
            course={mine.course}
            points={null}
            samples={[]}
            portions={mine.stages.map(({ dueAt }) => ({ at: dueAt, done: false }))}
            retests={mine.stages.flatMap(({ retestsAt }) => retestsAt)}
            band={need.band}
            now={decision.at}
            words={say`from ${num(mine.fromPh, 2, garden.units)} to ${num(mine.ends.typical, 2, garden.units)} (${num(mine.ends.low, 2, garden.units)} to ${num(mine.ends.high, 2, garden.units)}); the shade holds what may come of it, triangles are portions, ticks at the upper edge measuring again`}
          />
          <Portions draft={mine} />
          <ToldList told={draftTold(mine, option, need)} label={say`What holds for this plan`} />
          <Why grounds={mine.grounds} of={say`the portions`} />
          <Cautions name={name} cautions={option.cautions} />
          <FormProblem problem={problem} fields={[]} />
          <p class="buttons">
            <button
              data-needs="change"
              type="button"
              class="main"
              aria-disabled={busy}
              onClick={() =>
                !busy &&
                send(async () => {
                  await api.keepPlan(bedId, body)
                  onKept()
                })
              }
            >{say`Keep this plan`}</button>
          </p>
        </>
      )}
    </Question>
  )
}

function Portions({ draft }: { readonly draft: DraftView }) {
  const { garden } = useHub()
  const { units } = garden
  return (
    <div class="scroll">
      <table class="stack">
        <caption>{say`Portions of ${draft.name}`}</caption>
        <thead>
          <tr>
            <th scope="col">{say`From`}</th>
            <th scope="col">{say`On the bed`}</th>
            <th scope="col">{say`Expected change, pH`}</th>
            <th scope="col">{say`Full about`}</th>
            <th scope="col">{say`Measure again`}</th>
          </tr>
        </thead>
        <tbody>
          {draft.stages.map((stage) => (
            <tr key={stage.dueAt}>
              <td data-label={say`From`}>{dateOnly(stage.dueAt, garden)}</td>
              <td data-label={say`On the bed`}>
                <strong class="figures">{portionText(stage.amountG, units)}</strong>{' '}
                <span class="faint">({spreadText(stage.gM2, units)})</span>
              </td>
              <td data-label={say`Expected change, pH`} class="figures">
                {changeRange(stage.change, units)}
              </td>
              <td data-label={say`Full about`}>{fullWords(stage, garden)}</td>
              <td data-label={say`Measure again`}>
                {stage.retestsAt.map((at) => dateOnly(at, garden)).join('; ')}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}
