import { useEffect, useId, useRef, useState } from 'preact/hooks'
import type { PlanView } from '../../../../hub/api/schemas/planning.ts'
import { problemOf } from '../../ask.ts'
import { api } from '../../api.ts'
import { unitName } from '../../format.ts'
import { useHub, useNow } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { say } from '../../say.ts'
import { Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import { Cautions } from './cautions.tsx'
import { shrunk } from './photo.ts'
import { stageDraft, stageOf } from './stage-draft.ts'
import { portionText } from '../../weight-words.ts'

const SHOWN = ['at', 'amountG', 'text']

interface PutOnProps {
  readonly plan: PlanView
  /** After the portion was written down; what could not be kept of it, if anything. */
  readonly onDone: () => void
}

/** The next portion: a tap to begin, a tap to write it down. */
export function PutOn({ plan, onDone }: PutOnProps) {
  const { garden } = useHub()
  const now = useNow()
  const [open, setOpen] = useState(false)
  const [lost, setLost] = useState<string | null>(null)
  const opener = useRef<HTMLButtonElement>(null)
  const { next } = plan
  if (next === null) return lost === null ? null : <Lost words={lost} />
  if (open) {
    return (
      <PutOnForm
        plan={plan}
        next={next}
        onCancel={() => {
          setOpen(false)
          requestAnimationFrame(() => opener.current?.focus())
        }}
        onDone={(words) => {
          setOpen(false)
          setLost(words)
          onDone()
        }}
      />
    )
  }
  return (
    <>
      {lost !== null && <Lost words={lost} />}
      {next.dueAt <= now && (
        <p>
          <button
            data-needs="change"
            type="button"
            class="main"
            ref={opener}
            onClick={() => setOpen(true)}
          >{say`Put on ${portionText(next.amountG, garden.units)} of ${plan.name}`}</button>
        </p>
      )}
    </>
  )
}

function Lost({ words }: { readonly words: string }) {
  return (
    <p class="error" role="alert">
      {words}
    </p>
  )
}

function PutOnForm({
  plan,
  next,
  onDone,
  onCancel,
}: {
  readonly plan: PlanView
  readonly next: NonNullable<PlanView['next']>
  readonly onDone: (lost: string | null) => void
  readonly onCancel: () => void
}) {
  const { garden, aheadMs } = useHub()
  const [draft, setDraft] = useState(() => stageDraft(next.amountG, Date.now() + aheadMs, garden))
  const [photo, setPhoto] = useState<Blob | null>(null)
  const [picture, setPicture] = useState<string | null>(null)
  const [photoError, setPhotoError] = useState<string | null>(null)
  const { problem, busy, send, refuse } = useSend()
  const id = useId()
  const heading = useRef<HTMLHeadingElement>(null)
  // Not the button: the cautions would scroll away above it.
  useEffect(() => heading.current?.focus(), [])
  useEffect(() => {
    if (photo === null) return setPicture(null)
    const reader = new FileReader()
    reader.addEventListener('load', () => {
      if (typeof reader.result === 'string') setPicture(reader.result)
    })
    reader.readAsDataURL(photo)
    return () => reader.abort()
  }, [photo])
  const take = async (file: File | undefined): Promise<void> => {
    setPhotoError(null)
    setPhoto(null)
    if (file === undefined) return
    const small = await shrunk(file)
    if (small === null) setPhotoError(say`'${file.name}' cannot be read as a picture`)
    else setPhoto(small)
  }
  const save = (): void => {
    const { body, errors } = stageOf(draft, garden)
    if (errors.length > 0) return refuse(errors)
    send(async () => {
      const kept = await api.stageDone(plan.id, next.stage + 1, body)
      const entry = kept.stages[next.stage]?.entry
      let lost: string | null = null
      if (photo !== null && entry !== null && entry !== undefined) {
        try {
          await api.savePhoto(entry.id, photo)
        } catch (error) {
          const why = problemOf(error)
          lost = say`The portion is written down, but its photo could not be kept: ${why?.detail ?? why?.title ?? say`it was broken off`}.`
        }
      }
      onDone(lost)
    })
  }
  return (
    <div class="put-on">
      <h3
        ref={heading}
        tabIndex={-1}
      >{say`Portion ${next.stage + 1}: ${portionText(next.amountG, garden.units)} of ${plan.name}`}</h3>
      <Cautions name={plan.name} cautions={plan.cautions} />
      <Form
        label={say`Portion ${next.stage + 1}`}
        onSubmit={save}
        busy={busy}
        submit={say`Write it down`}
        onCancel={onCancel}
      >
        <FormProblem problem={problem} fields={SHOWN} />
        <div class="fields">
          <Field
            label={say`On the whole bed`}
            type="decimal"
            width="short"
            unit={unitName('mass', garden.units)}
            value={draft.amount}
            onInput={(amount) => setDraft({ ...draft, amount })}
            error={errorFor(problem, 'amountG')}
          />
          <Field
            label={say`When`}
            type="datetime-local"
            value={draft.at}
            onInput={(at) => setDraft({ ...draft, at })}
            hint={say`on the garden's clock, ${garden.zone}`}
            error={errorFor(problem, 'at')}
          />
          <Field
            label={say`Remark`}
            value={draft.text}
            onInput={(text) => setDraft({ ...draft, text })}
            error={errorFor(problem, 'text')}
          />
          <div class="field long">
            <label>
              {say`Photo`}
              <input
                type="file"
                accept="image/*"
                capture="environment"
                aria-invalid={photoError === null ? undefined : 'true'}
                aria-describedby={photoError === null ? `${id}-h` : `${id}-h ${id}-e`}
                onChange={(event) => void take(event.currentTarget.files?.[0])}
              />
            </label>
            <small
              id={`${id}-h`}
              class="hint"
            >{say`made small before it is kept; where it was taken is not kept`}</small>
            {photoError !== null && (
              <small id={`${id}-e`} class="error">
                {photoError}
              </small>
            )}
            {picture !== null && <img class="taken" src={picture} alt={say`As it will be kept`} />}
          </div>
        </div>
      </Form>
    </div>
  )
}
