import { useState } from 'preact/hooks'
import type { StorageView, ThinningView } from '../../../../hub/api/schemas/storage.ts'
import { api, files } from '../../api.ts'
import { useHub } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { saidOptions, say, toSay } from '../../say.ts'
import { Choices, Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import { bytes } from './bytes.ts'
import { monthsOf } from './months-of.ts'

const KEEP = [
  { value: 'ever', words: toSay('for ever') },
  { value: 'months', words: toSay('for some months, then as hours') },
] as const

/** How long raw readings are kept; what would go is seen before it goes. */
export function RetentionForm({ storage, onSaved }: { storage: StorageView; onSaved: () => void }) {
  const { units } = useHub().garden
  const [kept, setKept] = useState<'ever' | 'months'>(
    storage.retention.rawMonths === null ? 'ever' : 'months',
  )
  const [months, setMonths] = useState(String(storage.retention.rawMonths ?? 24))
  const [would, setWould] = useState<ThinningView | null>(null)
  const [backup, setBackup] = useState(false)
  const [told, setTold] = useState('')
  const { problem, busy, send, refuse } = useSend()
  const change = (work: () => void): void => {
    setWould(null)
    setBackup(false)
    setTold('')
    work()
  }
  const save = (): void => {
    if (kept === 'ever') {
      return send(async () => {
        await api.saveRetention({ rawMonths: null, backup: false })
        setTold(say`Raw readings are kept for ever.`)
        onSaved()
      })
    }
    const { value, error } = monthsOf(months)
    if (value === null) return refuse([{ path: 'rawMonths', message: error }])
    // First what would go, then whether there is a backup.
    if (would === null) return send(async () => setWould(await api.thinning(value)))
    if (!backup) {
      return refuse([
        {
          path: 'backup',
          message: say`Say that there is a backup, or that you want none: what became hours does not come back.`,
        },
      ])
    }
    send(async () => {
      await api.saveRetention({ rawMonths: value, backup })
      await api.thin()
      change(() =>
        setTold(
          say`Begun. How far it is stands on the page Data; from now on it is done every night.`,
        ),
      )
      onSaved()
    })
  }
  return (
    <Form
      label={say`Raw readings`}
      busy={busy}
      submit={
        kept === 'ever'
          ? say`Save`
          : would === null
            ? say`See what would go`
            : say`Make hours of them`
      }
      onSubmit={save}
      {...(would === null ? {} : { onCancel: () => change(() => undefined) })}
    >
      <FormProblem problem={problem} fields={['rawMonths', 'backup']} />
      <div class="fields">
        <div class="field wide">
          <Choices
            legend={say`Raw readings are kept`}
            value={kept}
            options={saidOptions(KEEP)}
            onChange={(value) => change(() => setKept(value))}
          />
          <small class="hint">{say`Every reading as it came is what later questions are answered from; keep them unless the disk is small.`}</small>
        </div>
        {kept === 'months' && (
          <Field
            label={say`Months`}
            type="decimal"
            width="short"
            value={months}
            onInput={(text) => change(() => setMonths(text))}
            error={errorFor(problem, 'rawMonths')}
          />
        )}
      </div>
      {would !== null && (
        <div class="would" data-testid="would-thin">
          <p class="sentence">
            <b>{would.sentence}</b>{' '}
            {would.readings > 0 && say`${bytes(would.savedBytes, units)} less.`}
          </p>
          <ul>
            {would.notes.map((note) => (
              <li key={note}>{note}</li>
            ))}
          </ul>
          <p class="buttons">
            <a class="button" href={files.backup} download>{say`Download a backup first`}</a>
          </p>
          <label class="check">
            <input
              type="checkbox"
              checked={backup}
              aria-describedby={errorFor(problem, 'backup') === null ? undefined : 'backup-error'}
              onChange={(event) => setBackup(event.currentTarget.checked)}
            />{' '}
            {say`I have a backup, or want none`}
          </label>
          {errorFor(problem, 'backup') !== null && (
            <p class="error" id="backup-error">
              {errorFor(problem, 'backup')}
            </p>
          )}
        </div>
      )}
      <p role="status" class="faint">
        {told}
      </p>
    </Form>
  )
}
