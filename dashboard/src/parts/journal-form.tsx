import { useId, useState } from 'preact/hooks'
import type { BedView } from '../../../hub/api/schemas/bed.ts'
import type { Entry } from '../../../hub/api/schemas/journal.ts'
import type { JournalKind } from '../../../hub/model/journal.ts'
import { api } from '../api.ts'
import { JOURNAL_WORDS, unitName } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import { draftOf, entryOf, METHODS } from '../journal-draft.ts'
import type { JournalDraft } from '../journal-draft.ts'
import { MATERIALS } from '../materials.ts'
import { errorFor } from '../problem.ts'
import { TreatmentCaution } from './caution.tsx'
import { Choice, Choices, Field, Form, FormProblem, useSend } from './field.tsx'

const KINDS: readonly JournalKind[] = ['treatment', 'irrigation', 'service', 'sample', 'note']
const SHOWN = ['at', 'material', 'amountG', 'waterL', 'probe', 'ph', 'method', 'text']

interface JournalFormProps {
  readonly bed: BedView
  readonly entry: Entry | null
  readonly onDone: () => void
}

/** Writes or changes one journal entry; each kind has its own fields. */
export function JournalForm({ bed, entry, onDone }: JournalFormProps) {
  const { garden, aheadMs, probes } = useHub()
  const [draft, setDraft] = useState(() => draftOf(entry, Date.now() + aheadMs, garden))
  const { problem, busy, send, refuse } = useSend()
  const textId = useId()
  const set = (change: Partial<JournalDraft>): void => setDraft((old) => ({ ...old, ...change }))
  const error = (path: string): string | null => errorFor(problem, path)
  const save = (): void => {
    const made = entryOf(draft, garden, entry)
    if (made.errors.length > 0) return refuse(made.errors)
    send(async () => {
      await (entry === null
        ? api.addEntry(bed.id, made.entry)
        : api.saveEntry(entry.id, made.entry))
      onDone()
    })
  }
  const here = probes.filter((probe) => probe.bedId === bed.id || probe.id === draft.probe)
  return (
    <Form
      label={entry === null ? 'New journal entry' : 'Change journal entry'}
      onSubmit={save}
      busy={busy}
      submit="Save entry"
      onCancel={onDone}
    >
      <Choices
        legend="Kind"
        value={draft.kind}
        options={KINDS.map((value) => ({ value, words: JOURNAL_WORDS[value] }))}
        onChange={(kind) => set({ kind })}
      />
      {draft.kind === 'treatment' && <TreatmentCaution />}
      <FormProblem problem={problem} fields={SHOWN} />
      <div class="fields" style={{ marginTop: '1rem' }}>
        <Field
          label="When"
          type="datetime-local"
          value={draft.at}
          onInput={(at) => set({ at })}
          hint={`on the garden's clock, ${garden.zone}`}
          error={error('at')}
        />
        {draft.kind === 'treatment' && (
          <>
            <Field
              label="What was put on"
              value={draft.material}
              list={MATERIALS}
              onInput={(material) => set({ material })}
              error={error('material')}
            />
            <Field
              label="On the whole bed"
              type="decimal"
              width="short"
              unit={unitName('mass', garden.units)}
              value={draft.amount}
              onInput={(amount) => set({ amount })}
              error={error('amountG')}
            />
          </>
        )}
        {draft.kind === 'irrigation' && (
          <Field
            label="Water on the whole bed"
            type="decimal"
            width="short"
            unit={unitName('volume', garden.units)}
            value={draft.water}
            onInput={(water) => set({ water })}
            error={error('waterL')}
          />
        )}
        {draft.kind === 'service' && (
          <Choice
            label="Which probe"
            value={draft.probe}
            options={[
              { value: '', words: 'none in particular' },
              ...here.map((probe) => ({ value: probe.id, words: probe.name })),
            ]}
            onChange={(probe) => set({ probe })}
            error={error('probe')}
          />
        )}
        {draft.kind === 'sample' && (
          <>
            <Field
              label="pH measured"
              type="decimal"
              width="short"
              value={draft.ph}
              onInput={(ph) => set({ ph })}
              error={error('ph')}
            />
            <Choice
              label="How"
              value={draft.method}
              options={[
                { value: '', words: 'choose …' },
                ...METHODS.map((value) => ({ value, words: value })),
              ]}
              onChange={(method) => set({ method })}
              error={error('method')}
            />
          </>
        )}
        <div class="field wide">
          <label for={textId}>{draft.kind === 'note' ? 'Note' : 'Remark'}</label>
          <textarea
            id={textId}
            rows={draft.kind === 'note' ? 4 : 2}
            maxLength={2000}
            value={draft.text}
            aria-invalid={error('text') !== null ? 'true' : undefined}
            onInput={(event) => set({ text: event.currentTarget.value })}
          />
          {error('text') !== null && <small class="error">{error('text')}</small>}
        </div>
      </div>
    </Form>
  )
}
