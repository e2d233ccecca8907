import type { Decision } from '../../../../hub/api/schemas/planning.ts'
import { dateOnly } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { api } from '../../api.ts'
import { said, say } from '../../say.ts'
import { FormProblem, useSend } from '../field.tsx'
import { Confirm } from '../form.tsx'
import { spreadRange, spreadText } from './dose-words.ts'
import { BUFFERING_WORDS, weightWords } from './plan-words.ts'
import { Question } from './question.tsx'
import { Settles } from './settle.tsx'
import { Sources } from './sources.tsx'

/** How strongly the bed holds its pH, what that rests on, and the ways to know it better. */
export function BufferingPart({
  decision,
  onChanged,
}: {
  readonly decision: Decision
  readonly onChanged: () => void
}) {
  const { garden } = useHub()
  const { buffering, bufferingMissing, bedId, soil } = decision
  return (
    <Question id="buffering" title={say`How strongly it holds its pH`}>
      {buffering === null ? (
        <p class="sentence">{bufferingMissing}</p>
      ) : (
        <>
          <p class="sentence">{buffering.sentence}</p>
          <div class="scroll">
            <table class="stack">
              <caption>{say`Pure lime for one pH over the worked depth, and what that rests on`}</caption>
              <thead>
                <tr>
                  <th scope="col">{say`Rests on`}</th>
                  <th scope="col">{say`Usual`}</th>
                  <th scope="col">{say`Least to most`}</th>
                  <th scope="col">{say`In the whole`}</th>
                </tr>
              </thead>
              <tbody>
                {buffering.parts.map(({ kind, gM2PerPh, weight, sentence, sources }) => (
                  <tr key={kind}>
                    <td>
                      <strong>{said(BUFFERING_WORDS[kind])}</strong>
                      <details class="why">
                        <summary>
                          {say`Why`}
                          <span class="unseen">: {said(BUFFERING_WORDS[kind])}</span>
                        </summary>
                        <p>{sentence}</p>
                        <Sources sources={sources} />
                      </details>
                    </td>
                    <td class="figures" data-label={say`Usual`}>
                      {spreadText(gM2PerPh.typical, garden.units)}
                    </td>
                    <td class="figures" data-label={say`Least to most`}>
                      {spreadRange(gM2PerPh, garden.units)}
                    </td>
                    <td data-label={say`In the whole`}>{weightWords(weight)}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        </>
      )}
      <Tests decision={decision} onChanged={onChanged} />
      <h3 class="to-know">{say`To know it better`}</h3>
      <Settles
        ways={['jar test', 'laboratory', 'soil form', 'vinegar test']}
        bedId={bedId}
        soil={soil}
        onDone={onChanged}
      />
    </Question>
  )
}

/** Tests of the soil that were written down. */
function Tests({
  decision: { tests },
  onChanged,
}: {
  readonly decision: Decision
  readonly onChanged: () => void
}) {
  const { garden } = useHub()
  const { problem, send } = useSend()
  if (tests.length === 0) return null
  return (
    <>
      <h3>{say`What was found out about the soil`}</h3>
      <FormProblem problem={problem} fields={[]} />
      <ul class="tests">
        {tests.map(({ id, at, sentence, text }) => (
          <li key={id}>
            <span>
              <span class="faint">{dateOnly(at, garden)}</span> {sentence}
              {text !== '' && ` ${text}`}
            </span>
            <Confirm
              words={say`Remove`}
              ask={say`Remove this test for good?`}
              onYes={() =>
                send(async () => {
                  await api.removeSoilTest(id)
                  onChanged()
                })
              }
            />
          </li>
        ))}
      </ul>
    </>
  )
}
