import { useState } from 'preact/hooks'
import { api } from '../../api.ts'
import { unitName } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { say } from '../../say.ts'
import { toInputTime } from '../../input-time.ts'
import { Choice, Choices, Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import { LIME_UNITS } from './lime-units.ts'
import type { LimeUnit } from './lime-units.ts'
import type { SettleFormProps } from './settle.tsx'
import { laboratoryDraft, laboratoryTestOf } from './soil-test-draft.ts'
import type { LaboratoryDraft } from './soil-test-draft.ts'

const SHOWN = ['at', 'limeGM2', 'equivalent', 'depthM', 'fromPh', 'toPh', 'meqPer100G', 'ph']

/** What a laboratory says of how much lime the soil takes. */
export function LaboratoryForm({ bedId, onDone, onCancel }: SettleFormProps) {
  const { garden, aheadMs } = useHub()
  const [draft, setDraft] = useState(() =>
    laboratoryDraft(toInputTime(Date.now() + aheadMs, garden.zone), garden.units),
  )
  const { problem, busy, send, refuse } = useSend()
  const set = (change: Partial<LaboratoryDraft>): void => setDraft((old) => ({ ...old, ...change }))
  const error = (path: string): string | null => errorFor(problem, path)
  const save = (): void => {
    const { test, errors } = laboratoryTestOf(draft, garden)
    if (test === null) return refuse(errors)
    send(async () => {
      await api.addSoilTest(bedId, test)
      onDone()
    })
  }
  const asRequirement = draft.says === 'lime requirement'
  return (
    <Form
      label={say`Figure of a laboratory`}
      onSubmit={save}
      busy={busy}
      submit={say`Write it down`}
      onCancel={onCancel}
    >
      <Choices
        legend={say`What the sheet says`}
        value={draft.says}
        options={[
          { value: 'lime requirement', words: say`How much lime` },
          { value: 'exchangeable acidity', words: say`Exchangeable acidity` },
        ]}
        onChange={(says) => set({ says })}
      />
      <FormProblem problem={problem} fields={SHOWN} />
      <div class="fields gap">
        {asRequirement ? (
          <>
            <Field
              label={say`Lime it advises`}
              type="decimal"
              width="short"
              value={draft.amount}
              onInput={(amount) => set({ amount })}
              error={error('limeGM2')}
            />
            <Choice
              label={say`in`}
              value={draft.unit}
              options={LIME_UNITS.map(({ unit, words }) => ({ value: unit, words }))}
              onChange={(unit) => set({ unit: unit as LimeUnit })}
            />
            <Field
              label={say`Carbonate equivalent it reckons with`}
              type="decimal"
              width="short"
              unit="%"
              hint={say`100 unless the sheet says otherwise`}
              value={draft.equivalent}
              onInput={(equivalent) => set({ equivalent })}
              error={error('equivalent')}
            />
            <Field
              label={say`Worked in how deep`}
              type="decimal"
              width="short"
              unit={unitName('depth', garden.units)}
              hint={say`the depth the figure is for`}
              value={draft.depth}
              onInput={(depth) => set({ depth })}
              error={error('depthM')}
            />
            <Field
              label={say`From pH`}
              type="decimal"
              width="short"
              value={draft.fromPh}
              onInput={(fromPh) => set({ fromPh })}
              error={error('fromPh')}
            />
            <Field
              label={say`to pH`}
              type="decimal"
              width="short"
              value={draft.toPh}
              onInput={(toPh) => set({ toPh })}
              error={error('toPh')}
            />
          </>
        ) : (
          <>
            <Field
              label={say`Exchangeable acidity`}
              type="decimal"
              width="short"
              unit="meq/100 g"
              hint={say`the same number as cmol(+)/kg`}
              value={draft.acidity}
              onInput={(acidity) => set({ acidity })}
              error={error('meqPer100G')}
            />
            <Field
              label={say`pH of the same sample, in water`}
              type="decimal"
              width="short"
              value={draft.ph}
              onInput={(ph) => set({ ph })}
              error={error('ph')}
            />
          </>
        )}
        <Field
          label={say`When the sample was taken`}
          type="datetime-local"
          value={draft.at}
          onInput={(at) => set({ at })}
          error={error('at')}
        />
      </div>
    </Form>
  )
}
