import { useState } from 'preact/hooks'
import type { Garden } from '../../../hub/api/schemas/garden.ts'
import { api } from '../api.ts'
import { useHub } from '../hub-context.tsx'
import { errorFor } from '../problem.ts'
import { say } from '../say.ts'
import { Choices, Field, FormProblem, useSend } from './field.tsx'
import { Form } from './form.tsx'

const UNITS = [
  { value: 'metric', words: 'g, L, cm, °C' },
  { value: 'us', words: 'oz, gal, in, °F' },
] as const

/** Each in its own language, to be found by those who read no other. */
const LANGUAGES = [
  { value: 'en', words: 'English' },
  { value: 'de', words: 'Deutsch' },
  { value: 'es', words: 'Español' },
] as const

/** What holds for the whole garden: name, time zone, language, units. */
export function GardenForm({ garden }: { garden: Garden }) {
  const { refresh } = useHub()
  const [draft, setDraft] = useState(garden)
  const [saved, setSaved] = useState(false)
  const { problem, busy, send } = useSend()
  const set = (change: Partial<Garden>): void => {
    setSaved(false)
    setDraft((old) => ({ ...old, ...change }))
  }
  return (
    <Form
      label={say`The garden`}
      busy={busy}
      submit={say`Save`}
      onSubmit={() =>
        send(async () => {
          await api.saveGarden(draft)
          await refresh()
          setSaved(true)
        })
      }
    >
      <FormProblem problem={problem} fields={['name', 'zone', 'units', 'language']} />
      <div class="fields">
        <Field
          label={say`Name of the garden`}
          value={draft.name}
          onInput={(name) => set({ name })}
          error={errorFor(problem, 'name')}
        />
        <Field
          label={say`Time zone`}
          value={draft.zone}
          list={Intl.supportedValuesOf('timeZone')}
          onInput={(zone) => set({ zone })}
          hint={say`where the garden lies, such as Europe/Lisbon`}
          error={errorFor(problem, 'zone')}
        />
        <Choices
          legend={say`Language`}
          value={draft.language}
          options={LANGUAGES}
          onChange={(language) => set({ language })}
        />
        <Choices
          legend={say`Units`}
          value={draft.units}
          options={UNITS}
          onChange={(units) => set({ units })}
        />
      </div>
      <p role="status" class="faint">
        {saved ? say`Saved.` : ''}
      </p>
    </Form>
  )
}
