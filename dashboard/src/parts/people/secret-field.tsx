import { useId, useState } from 'preact/hooks'
import { say } from '../../say.ts'

interface Props {
  readonly label: string
  readonly value: string
  readonly onInput: (value: string) => void
  /** What a password manager is told. */
  readonly autocomplete: 'current-password' | 'new-password'
  readonly hint?: string
  readonly error?: string | null
}

/** A password that can be shown while it is typed. */
export function SecretField({ label, value, onInput, autocomplete, hint, error }: Props) {
  const id = useId()
  const [shown, setShown] = useState(false)
  const notes = [hint === undefined ? '' : `${id}-h`, error ? `${id}-e` : '']
  return (
    <div class="field long">
      <label for={id}>{label}</label>
      <span class="entry">
        <input
          id={id}
          {...(shown ? { type: 'text' as const } : { type: 'password' as const })}
          value={value}
          autocomplete={autocomplete}
          autocapitalize="none"
          spellcheck={false}
          aria-invalid={error ? 'true' : undefined}
          aria-describedby={notes.filter((note) => note !== '').join(' ') || undefined}
          onInput={(event) => onInput(event.currentTarget.value)}
        />
        <button type="button" class="quiet" aria-pressed={shown} onClick={() => setShown(!shown)}>
          {shown ? say`Hide` : say`Show`}
        </button>
      </span>
      {hint !== undefined && (
        <small id={`${id}-h`} class="hint">
          {hint}
        </small>
      )}
      {error && (
        <small id={`${id}-e`} class="error">
          {error}
        </small>
      )}
    </div>
  )
}

interface NameProps {
  readonly value: string
  readonly onInput: (value: string) => void
  readonly error?: string | null
}

/** The name somebody signs in with. */
export function NameField({ value, onInput, error }: NameProps) {
  const id = useId()
  return (
    <div class="field long">
      <label for={id}>{say`Name`}</label>
      <input
        id={id}
        value={value}
        autocomplete="username"
        autocapitalize="none"
        spellcheck={false}
        aria-invalid={error ? 'true' : undefined}
        aria-describedby={error ? `${id}-e` : undefined}
        onInput={(event) => onInput(event.currentTarget.value)}
      />
      {error && (
        <small id={`${id}-e`} class="error">
          {error}
        </small>
      )}
    </div>
  )
}
