import { useState } from 'preact/hooks'
import { api } from '../../api.ts'
import { useHub } from '../../hub-context.tsx'
import { draftOf, entryOf, METHODS } from '../../journal-draft.ts'
import { errorFor } from '../../problem.ts'
import { said, say } from '../../say.ts'
import { Choice, Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import type { SettleFormProps } from './settle.tsx'

const SHOWN = ['at', 'ph', 'method']
/** What confirms the probes before a dose; the others are taken down all the same. */
const CONFIRMING = new Set<string>([
  'slurry 1:1',
  'slurry 1:2',
  'laboratory',
  'laboratory 1:1',
  'laboratory 1:2',
])

/** A pH by hand or from the laboratory. */
export function SampleForm({ bedId, onDone, onCancel }: SettleFormProps) {
  const { garden, aheadMs } = useHub()
  const [draft, setDraft] = useState(() => ({
    ...draftOf(null, Date.now() + aheadMs, garden),
    kind: 'sample' as const,
    method: 'slurry 1:1',
  }))
  const { problem, busy, send, refuse } = useSend()
  const save = (): void => {
    const { entry, errors } = entryOf(draft, garden)
    if (entry.ph === null && errors.every(({ path }) => path !== 'ph'))
      errors.push({ path: 'ph', message: say`give a number` })
    if (errors.length > 0) return refuse(errors)
    send(async () => {
      await api.addEntry(bedId, entry)
      onDone()
    })
  }
  return (
    <Form
      label={say`A sample`}
      onSubmit={save}
      busy={busy}
      submit={say`Write it down`}
      onCancel={onCancel}
    >
      <p>{say`Take soil from ten places, as deep as the bed is worked, mix it, and shake one part of it up with one (1:1) or two parts (1:2) of distilled water. Let it stand half an hour, then measure with a calibrated meter; or send the mixed soil to a laboratory.`}</p>
      <FormProblem problem={problem} fields={SHOWN} />
      <div class="fields">
        <Field
          label={say`pH measured`}
          type="decimal"
          width="short"
          value={draft.ph}
          onInput={(ph) => setDraft({ ...draft, ph })}
          error={errorFor(problem, 'ph')}
        />
        <Choice
          label={say`How`}
          value={draft.method}
          options={METHODS.map((value) => ({
            value,
            words: CONFIRMING.has(value) ? said(value) : say`${said(value)} (does not confirm)`,
          }))}
          onChange={(method) => setDraft({ ...draft, method })}
          error={errorFor(problem, 'method')}
        />
        <Field
          label={say`When`}
          type="datetime-local"
          value={draft.at}
          onInput={(at) => setDraft({ ...draft, at })}
          hint={say`on the garden's clock, ${garden.zone}`}
          error={errorFor(problem, 'at')}
        />
      </div>
    </Form>
  )
}
