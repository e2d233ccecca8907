import { useState } from 'preact/hooks'
import { api } from '../../api.ts'
import { useHub } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { say } from '../../say.ts'
import { toInputTime } from '../../input-time.ts'
import { Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import type { SettleFormProps } from './settle.tsx'
import { jarDraft, jarTestOf, withJar } from './soil-test-draft.ts'
import type { JarDraft, JarRow } from './soil-test-draft.ts'

const MOST_JARS = 12

/** Jars of the same soil with more and more lime: how strongly it holds its pH. */
export function JarForm({ bedId, onDone, onCancel }: SettleFormProps) {
  const { garden, aheadMs } = useHub()
  const [draft, setDraft] = useState(() => jarDraft(toInputTime(Date.now() + aheadMs, garden.zone)))
  const { problem, busy, send, refuse } = useSend()
  const set = (change: Partial<JarDraft>): void => setDraft((old) => ({ ...old, ...change }))
  const setRow = (at: number, change: Partial<JarRow>): void =>
    set({ rows: draft.rows.map((row, i) => (i === at ? { ...row, ...change } : row)) })
  // The hub counts the jars that were made; the form has rows for others between them.
  const made = draft.rows.flatMap(({ ph }, i) => (ph.trim() === '' ? [] : [i]))
  const fields = [
    'at',
    'soilG',
    'equivalent',
    'jars',
    ...draft.rows.flatMap((_, i) => [`jars.${i}.limeG`, `jars.${i}.ph`]),
  ]
  const own = problem?.errors?.find(({ path }) => /jars$/.test(path))?.message
  const save = (): void => {
    const { test, errors } = jarTestOf(draft, garden)
    if (test === null) return refuse(errors)
    send(async () => {
      await api.addSoilTest(bedId, test)
      onDone()
    })
  }
  const errorOf = (row: number, field: string): string | null => {
    const here = errorFor(problem, `jars.${row}.${field}`)
    const sent = made.indexOf(row)
    return here ?? (sent < 0 ? null : errorFor(problem, `jars.${sent}.${field}`))
  }
  return (
    <Form
      label={say`Jar test`}
      onSubmit={save}
      busy={busy}
      submit={say`Write it down`}
      onCancel={onCancel}
    >
      <ol class="steps">
        <li>{say`Mix soil from ten places of the bed, as deep as it is worked. Let it dry in the air, crumble it, and weigh the same amount into at least three jars; five are better.`}</li>
        <li>{say`Weigh finely ground limestone with scales that show 0.1 g: none into the first jar, then more and more. Stir each jar until nothing of it can be seen. Lime dust is no good for eyes and lungs: glasses, gloves, still air.`}</li>
        <li>{say`Moisten all jars alike with distilled or rain water, as a wrung-out sponge. Lids on loosely, three to four weeks in a warm room, stirred and kept moist once a week.`}</li>
        <li>{say`Shake soil of each jar up with as much distilled water (1:1), let it stand half an hour, and measure all of them with the same calibrated meter.`}</li>
      </ol>
      <FormProblem problem={problem} fields={fields} />
      <div class="fields">
        <Field
          label={say`Dry soil in each jar`}
          type="decimal"
          width="short"
          unit="g"
          value={draft.soil}
          onInput={(soil) => set({ soil })}
          error={errorFor(problem, 'soilG')}
        />
        <Field
          label={say`Calcium carbonate equivalent of the lime`}
          type="decimal"
          width="short"
          unit="%"
          hint={say`from its label; 100 for pure chalk`}
          value={draft.equivalent}
          onInput={(equivalent) => set({ equivalent })}
          error={errorFor(problem, 'equivalent')}
        />
        <Field
          label={say`When they were measured`}
          type="datetime-local"
          value={draft.at}
          onInput={(at) => set({ at })}
          error={errorFor(problem, 'at')}
        />
      </div>
      <table class="jars">
        <caption>{say`The jars; leave the pH empty for one that was not made`}</caption>
        <thead>
          <tr>
            <th scope="col">{say`Jar`}</th>
            <th scope="col">{say`Lime in it`}</th>
            <th scope="col">{say`pH after`}</th>
          </tr>
        </thead>
        <tbody>
          {draft.rows.map((row, i) => (
            <tr key={i}>
              <th scope="row">{i + 1}</th>
              <td>
                <Field
                  label={say`Lime in jar ${i + 1}`}
                  type="decimal"
                  width="short"
                  unit="g"
                  value={row.lime}
                  onInput={(lime) => setRow(i, { lime })}
                  error={errorOf(i, 'limeG')}
                />
              </td>
              <td>
                <Field
                  label={say`pH of jar ${i + 1}`}
                  type="decimal"
                  width="short"
                  value={row.ph}
                  onInput={(ph) => setRow(i, { ph })}
                  error={errorOf(i, 'ph')}
                />
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      {own !== undefined && <p class="error">{say`The jars: ${own}.`}</p>}
      {draft.rows.length < MOST_JARS && (
        <p>
          <button
            type="button"
            onClick={() => set({ rows: withJar(draft.rows) })}
          >{say`One more jar`}</button>
        </p>
      )}
    </Form>
  )
}
