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
import { sendWaiting, waitingQueue } from '../waiting-here.ts'
import type { Waiting } from '../waiting-store.ts'
import { said, say } from '../say.ts'
import { TreatmentCaution } from './caution.tsx'
import { Choice, Choices, Field, FormProblem, useSend } from './field.tsx'
import { Form } from './form.tsx'

const KINDS: readonly JournalKind[] = ['treatment', 'irrigation', 'service', 'sample', 'note']
const SHOWN = ['at', 'material', 'amountG', 'waterL', 'probe', 'ph', 'method', 'text']

interface JournalFormProps {
  readonly bed: BedView
  readonly entry: Entry | null
  /** Set when `entry` is something that waits on this device: then that is replaced. */
  readonly waiting?: Waiting
  readonly onDone: () => void
}

/** Writes or changes one journal entry; each kind has its own fields. */
export function JournalForm({ bed, entry, waiting, onDone }: JournalFormProps) {
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
      if (entry === null || waiting !== undefined) {
        const queue = await waitingQueue()
        await queue.add(bed.id, { kind: 'entry', body: made.entry })
        if (waiting !== undefined) await queue.takeBack(waiting)
        void sendWaiting()
      } else await api.saveEntry(entry.id, made.entry)
      onDone()
    })
  }
  const here = probes.filter((probe) => probe.bedId === bed.id || probe.id === draft.probe)
  return (
    <Form
      label={entry === null ? say`New journal entry` : say`Change journal entry`}
      onSubmit={save}
      busy={busy}
      submit={say`Save entry`}
      onCancel={onDone}
    >
      <Choices
        legend={say`Kind`}
        value={draft.kind}
        options={KINDS.map((value) => ({ value, words: said(JOURNAL_WORDS[value]) }))}
        onChange={(kind) => set({ kind })}
      />
      {draft.kind === 'treatment' && <TreatmentCaution />}
      <FormProblem problem={problem} fields={SHOWN} />
      <div class="fields" style={{ marginTop: '1rem' }}>
        <Field
          label={say`When`}
          type="datetime-local"
          value={draft.at}
          onInput={(at) => set({ at })}
          hint={say`on the garden's clock, ${garden.zone}`}
          error={error('at')}
        />
        {draft.kind === 'treatment' && (
          <>
            <Field
              label={say`What was put on`}
              value={draft.material}
              list={MATERIALS.map(said)}
              onInput={(material) => set({ material })}
              error={error('material')}
            />
            <Field
              label={say`On the whole bed`}
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
            label={say`Water on the whole bed`}
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
            label={say`Which probe`}
            value={draft.probe}
            options={[
              { value: '', words: say`none in particular` },
              ...here.map((probe) => ({ value: probe.id, words: probe.name })),
            ]}
            onChange={(probe) => set({ probe })}
            error={error('probe')}
          />
        )}
        {draft.kind === 'sample' && (
          <>
            <Field
              label={say`pH measured`}
              type="decimal"
              width="short"
              value={draft.ph}
              onInput={(ph) => set({ ph })}
              error={error('ph')}
            />
            <Choice
              label={say`How`}
              value={draft.method}
              options={[
                { value: '', words: say`choose …` },
                ...METHODS.map((value) => ({ value, words: said(value) })),
              ]}
              onChange={(method) => set({ method })}
              error={error('method')}
            />
          </>
        )}
        <div class="field wide">
          <label for={textId}>{draft.kind === 'note' ? say`Note` : say`Remark`}</label>
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
