import { useState } from 'preact/hooks'
import type { BedInput, BedView } from '../../../hub/api/schemas/bed.ts'
import { api } from '../api.ts'
import { bedDraft, bedOf } from '../bed-draft.ts'
import type { BedDraft } from '../bed-draft.ts'
import { unitName } from '../format.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import { errorFor } from '../problem.ts'
import { say } from '../say.ts'
import { textureWords } from '../texture-words.ts'
import { CropPicker } from './crop-picker.tsx'
import { Choice, Field, FormProblem, useSend } from './field.tsx'
import { Form } from './form.tsx'

const SHOWN = ['name', 'areaM2', 'depthM', 'texture', 'ownBand']

interface BedFormProps {
  readonly bed: BedView | null
  readonly onSave: (bed: BedInput) => Promise<void>
  readonly onCancel: () => void
}

/** All that the gardener says about a bed. */
export function BedForm({ bed, onSave, onCancel }: BedFormProps) {
  const { garden } = useHub()
  const [draft, setDraft] = useState(() => bedDraft(bed, garden.units))
  const crops = useLoad('crops', api.crops)
  const textures = useLoad('textures', api.textures)
  const { problem, busy, send, refuse } = useSend()
  const set = (change: Partial<BedDraft>): void => setDraft((old) => ({ ...old, ...change }))
  const save = (): void => {
    const made = bedOf(draft, garden.units, bed)
    if (made.errors.length > 0) return refuse(made.errors)
    send(() => onSave(made.bed))
  }
  const names = textures.data?.map((texture) => texture.name) ?? []
  const shownTextures = names.some((name) => name === draft.texture)
    ? names
    : [draft.texture, ...names]
  return (
    <Form
      label={bed === null ? say`New bed` : say`Change ${bed.name}`}
      onSubmit={save}
      busy={busy}
      submit={say`Save bed`}
      onCancel={onCancel}
    >
      <FormProblem problem={problem} fields={SHOWN} />
      <div class="fields">
        <Field
          label={say`Name`}
          value={draft.name}
          onInput={(name) => set({ name })}
          error={errorFor(problem, 'name')}
          required
        />
        <Field
          label={say`Area`}
          type="decimal"
          width="short"
          unit={unitName('area', garden.units)}
          value={draft.area}
          onInput={(area) => set({ area })}
          error={errorFor(problem, 'areaM2')}
        />
        <Field
          label={say`Worked depth`}
          type="decimal"
          width="short"
          unit={unitName('depth', garden.units)}
          hint={say`how deep the soil is dug or forked`}
          value={draft.depth}
          onInput={(depth) => set({ depth })}
          error={errorFor(problem, 'depthM')}
        />
        <Choice
          label={say`Soil texture`}
          value={draft.texture}
          options={shownTextures.map((value) => ({ value, words: textureWords(value) }))}
          onChange={(texture) => set({ texture })}
          error={errorFor(problem, 'texture')}
        />
        <CropPicker
          crops={crops.data ?? []}
          chosen={draft.crops}
          onChange={(chosen) => set({ crops: chosen })}
        />
        <fieldset class="field wide">
          <legend>{say`Band`}</legend>
          <label class="tick">
            <input
              type="checkbox"
              checked={draft.own}
              onChange={(event) => set({ own: event.currentTarget.checked })}
            />{' '}
            {say`Use a band of my own instead of the crops’`}
          </label>
          {draft.own && (
            <div class="fields">
              <Field
                label={say`From pH`}
                type="decimal"
                width="short"
                value={draft.low}
                onInput={(low) => set({ low })}
                error={errorFor(problem, 'ownBand.low')}
              />
              <Field
                label={say`to pH`}
                type="decimal"
                width="short"
                value={draft.high}
                onInput={(high) => set({ high })}
                error={errorFor(problem, 'ownBand.high')}
              />
            </div>
          )}
          {errorFor(
            {
              ...(problem ?? { type: '', title: '', status: 0 }),
              errors: (problem?.errors ?? []).filter((e) => /ownBand$/.test(e.path)),
            },
            'ownBand',
          ) !== null && (
            <small class="error">{say`The lower edge must be below the upper edge.`}</small>
          )}
        </fieldset>
      </div>
    </Form>
  )
}
