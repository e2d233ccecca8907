import { useState } from 'preact/hooks'
import type { Alarm } from '../../../../hub/api/schemas/alarm.ts'
import { isShelved, SHELF_TIMES, waits } from '../../alarm-words.ts'
import { api } from '../../api.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { fromInputTime } from '../../input-time.ts'
import { Choices, Field, FormProblem, useSend } from '../field.tsx'

type Chosen = (typeof SHELF_TIMES)[number]['value'] | 'date'

/** Acknowledge, shelve with an end, write a note. */
export function AlarmActs({ alarm }: { alarm: Alarm }) {
  const { refresh } = useHub()
  const { problem, busy, send } = useSend()
  const act = (work: () => Promise<unknown>): void =>
    send(async () => {
      await work()
      await refresh('beds')
    })
  return (
    <div class="alarm-acts" data-needs="change">
      <div class="alarm-row">
        {waits(alarm) && (
          <button
            type="button"
            class="main"
            aria-disabled={busy}
            onClick={() => act(() => api.acknowledge(alarm.id))}
          >
            {say`Acknowledge`}
          </button>
        )}
        {isShelved(alarm) && (
          <button
            type="button"
            aria-disabled={busy}
            onClick={() => act(() => api.unshelveAlarm(alarm.id))}
          >
            {say`Take from the shelf`}
          </button>
        )}
      </div>
      <FormProblem problem={problem} fields={[]} />
      {alarm.state !== 'normal' && !isShelved(alarm) && <ShelfForm alarm={alarm} />}
      <NoteForm alarm={alarm} />
    </div>
  )
}

function ShelfForm({ alarm }: { alarm: Alarm }) {
  const { garden, aheadMs, refresh } = useHub()
  const { problem, busy, send, refuse } = useSend()
  const [chosen, setChosen] = useState<Chosen>('day')
  const [date, setDate] = useState('')
  const [note, setNote] = useState('')
  const shelve = (): void => {
    const now = Date.now() + aheadMs
    const fixed = SHELF_TIMES.find(({ value }) => value === chosen)
    const until = fixed === undefined ? fromInputTime(date, garden.zone) : now + fixed.ms
    if (until === null || until <= now) {
      refuse([{ path: 'until', message: say`Please give a time that lies ahead` }])
      return
    }
    send(async () => {
      await api.shelveAlarm(alarm.id, { until: Math.round(until), note })
      await refresh('beds')
    })
  }
  const dateError = problem?.errors?.find(({ path }) => path === 'until')?.message ?? null
  return (
    <details class="alarm-form">
      <summary>{say`Put it on the shelf …`}</summary>
      <p class="hint">
        {say`Out of sight and out of messages until then; it comes back by itself. It goes on being watched.`}
      </p>
      <form
        noValidate
        onSubmit={(event) => {
          event.preventDefault()
          shelve()
        }}
      >
        <Choices
          legend={say`For how long`}
          value={chosen}
          options={[
            ...SHELF_TIMES.map(({ value, words }) => ({
              value: value as Chosen,
              words: said(words),
            })),
            { value: 'date', words: say`until a date` },
          ]}
          onChange={setChosen}
        />
        {chosen === 'date' && (
          <Field
            label={say`Until`}
            type="datetime-local"
            value={date}
            onInput={setDate}
            error={dateError}
          />
        )}
        <Field label={say`Why (may stay empty)`} value={note} onInput={setNote} width="full" />
        <FormProblem problem={problem} fields={['until']} />
        <button type="submit" aria-disabled={busy}>
          {say`Put on the shelf`}
        </button>
      </form>
    </details>
  )
}

function NoteForm({ alarm }: { alarm: Alarm }) {
  const { problem, busy, send, refuse } = useSend()
  const { refresh } = useHub()
  const [note, setNote] = useState('')
  const error = problem?.errors?.find(({ path }) => path === 'note')?.message ?? null
  return (
    <details class="alarm-form">
      <summary>{say`Write a note …`}</summary>
      <form
        noValidate
        onSubmit={(event) => {
          event.preventDefault()
          if (note.trim() === '') {
            refuse([{ path: 'note', message: say`Please write something` }])
            return
          }
          send(async () => {
            await api.noteAlarm(alarm.id, note.trim())
            setNote('')
            await refresh('beds')
          })
        }}
      >
        <Field label={say`Note`} value={note} onInput={setNote} width="full" error={error} />
        <FormProblem problem={problem} fields={['note']} />
        <button type="submit" aria-disabled={busy}>
          {say`Keep the note`}
        </button>
      </form>
    </details>
  )
}
