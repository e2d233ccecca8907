import { useState } from 'preact/hooks'
import { api } from '../../api.ts'
import { useHub } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { say } from '../../say.ts'
import { Choice, Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import type { SettleFormProps } from './settle.tsx'
import { densityUnit, soilDraft, soilOf } from './soil-draft.ts'
import type { SoilDraft } from './soil-draft.ts'

const SHOWN = ['bulkDensity', 'planting', 'hardWater']

/** What decides a dose and is not part of the bed. */
export function SoilForm({ bedId, soil, onDone, onCancel }: SettleFormProps) {
  const { garden } = useHub()
  const [draft, setDraft] = useState(() => soilDraft(soil, garden.units))
  const { problem, busy, send, refuse } = useSend()
  const set = (change: Partial<SoilDraft>): void => setDraft((old) => ({ ...old, ...change }))
  const { unit, measure } = densityUnit(garden.units)
  const save = (): void => {
    const made = soilOf(draft, soil, garden.units)
    if (made.errors.length > 0) return refuse(made.errors)
    send(async () => {
      await api.saveSoil(bedId, made.soil)
      onDone()
    })
  }
  return (
    <Form
      label={say`How the soil is`}
      onSubmit={save}
      busy={busy}
      submit={say`Save the soil`}
      onCancel={onCancel}
    >
      <FormProblem problem={problem} fields={SHOWN} />
      <div class="fields">
        <Field
          label={say`Dry soil in ${measure}, as it lies`}
          type="decimal"
          width="short"
          unit={unit}
          hint={say`Press a tin that holds ${measure} into the soil, level it off, let what is in it dry in the air, and weigh it. Empty: judged by texture.`}
          value={draft.density}
          onInput={(density) => set({ density })}
          error={errorFor(problem, 'bulkDensity')}
        />
        <Choice
          label={say`What grows in it now`}
          value={draft.planting}
          options={[
            { value: '', words: say`not said` },
            { value: 'bare', words: say`bare: something can be dug in` },
            { value: 'standing', words: say`plants that stay` },
          ]}
          onChange={(planting) => set({ planting: planting as SoilDraft['planting'] })}
          error={errorFor(problem, 'planting')}
        />
        <Choice
          label={say`The water it gets`}
          value={draft.water}
          options={[
            { value: '', words: say`not said` },
            { value: 'hard', words: say`hard: leaves lime in the kettle` },
            { value: 'soft', words: say`soft, or rain` },
          ]}
          onChange={(water) => set({ water: water as SoilDraft['water'] })}
          error={errorFor(problem, 'hardWater')}
        />
      </div>
    </Form>
  )
}
