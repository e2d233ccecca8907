import type { ComponentChildren } from 'preact'
import { useState } from 'preact/hooks'
import { midSentence, say } from '../say.ts'

interface FormProps {
  readonly onSubmit: () => void
  readonly busy: boolean
  readonly submit: string
  readonly onCancel?: (() => void) | undefined
  readonly children: ComponentChildren
  readonly label: string
  /** Nothing: also for those who may only look. @default 'change' */
  readonly needs?: 'change' | 'nothing'
}

/** A form with its buttons. */
export function Form({
  onSubmit,
  busy,
  submit,
  onCancel,
  children,
  label,
  needs = 'change',
}: FormProps) {
  return (
    <form
      data-needs={needs === 'change' ? needs : undefined}
      aria-label={label}
      noValidate
      onSubmit={(event) => {
        event.preventDefault()
        if (!busy) onSubmit()
      }}
    >
      {children}
      <p class="buttons">
        <button type="submit" class="main" aria-disabled={busy}>
          {submit}
        </button>
        {onCancel !== undefined && <button type="button" onClick={onCancel}>{say`Cancel`}</button>}
      </p>
    </form>
  )
}

/** A button for what cannot be taken back: it asks once more. */
export function Confirm({ words, ask, onYes }: { words: string; ask: string; onYes: () => void }) {
  const [asked, setAsked] = useState(false)
  if (!asked) {
    return (
      <button data-needs="change" type="button" class="quiet" onClick={() => setAsked(true)}>
        {words}
      </button>
    )
  }
  return (
    <span class="confirm" role="group" aria-label={ask}>
      <span>{ask}</span>
      <button
        type="button"
        onClick={() => {
          setAsked(false)
          onYes()
        }}
      >{say`Yes, ${midSentence(words)}`}</button>
      <button type="button" class="quiet" onClick={() => setAsked(false)}>{say`No`}</button>
    </span>
  )
}
