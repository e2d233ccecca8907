import { useId, useState } from 'preact/hooks'
import type { Problem } from '../../../hub/api/schemas/common.ts'
import { problemOf } from '../ask.ts'
import { restOf } from '../problem.ts'
import { say } from '../say.ts'

interface FieldProps {
  readonly label: string
  readonly value: string
  readonly onInput: (value: string) => void
  readonly hint?: string | undefined
  readonly error?: string | null
  readonly type?: 'text' | 'decimal' | 'date' | 'datetime-local'
  readonly unit?: string | undefined
  readonly list?: readonly string[]
  readonly width?: 'short' | 'long' | 'full'
  readonly required?: boolean
}

/** A labelled input with its hint and its error. */
export function Field(props: FieldProps) {
  const id = useId()
  const { type = 'text', width = 'long' } = props
  const notes = [props.hint === undefined ? '' : `${id}-h`, props.error ? `${id}-e` : '']
  return (
    <div class={`field ${width}`}>
      <label for={id}>{props.label}</label>
      <span class="entry">
        <input
          id={id}
          type={type === 'decimal' ? 'text' : type}
          inputMode={type === 'decimal' ? 'decimal' : undefined}
          value={props.value}
          required={props.required}
          autocomplete="off"
          list={props.list === undefined ? undefined : `${id}-l`}
          aria-invalid={props.error ? 'true' : undefined}
          aria-describedby={notes.filter((n) => n !== '').join(' ') || undefined}
          onInput={(event) => props.onInput(event.currentTarget.value)}
        />
        {props.unit !== undefined && <span class="unit">{props.unit}</span>}
      </span>
      {props.list !== undefined && (
        <datalist id={`${id}-l`}>
          {props.list.map((option) => (
            <option key={option} value={option}>
              {option}
            </option>
          ))}
        </datalist>
      )}
      {props.hint !== undefined && (
        <small id={`${id}-h`} class="hint">
          {props.hint}
        </small>
      )}
      {props.error && (
        <small id={`${id}-e`} class="error">
          {props.error}
        </small>
      )}
    </div>
  )
}

interface ChoiceProps {
  readonly label: string
  readonly value: string
  readonly options: readonly { readonly value: string; readonly words: string }[]
  readonly onChange: (value: string) => void
  readonly error?: string | null
  readonly hint?: string
}

/** A labelled list to choose from. */
export function Choice({ label, value, options, onChange, error, hint }: ChoiceProps) {
  const id = useId()
  return (
    <div class="field long">
      <label for={id}>{label}</label>
      <select
        id={id}
        value={value}
        aria-invalid={error ? 'true' : undefined}
        aria-describedby={error ? `${id}-e` : undefined}
        onChange={(event) => onChange(event.currentTarget.value)}
      >
        {options.map((option) => (
          <option key={option.value} value={option.value}>
            {option.words}
          </option>
        ))}
      </select>
      {hint !== undefined && <small class="hint">{hint}</small>}
      {error && (
        <small id={`${id}-e`} class="error">
          {error}
        </small>
      )}
    </div>
  )
}

interface TabsProps<T extends string | number> {
  readonly legend: string
  readonly value: T | null
  readonly options: readonly { readonly value: T; readonly words: string }[]
  readonly onChange: (value: T) => void
}

/** A row of choices of which one holds. */
export function Choices<T extends string | number>({
  legend,
  value,
  options,
  onChange,
}: TabsProps<T>) {
  const name = useId()
  return (
    <fieldset class="choices">
      <legend>{legend}</legend>
      {options.map((option) => (
        <label key={option.value}>
          <input
            type="radio"
            name={name}
            checked={option.value === value}
            onChange={() => onChange(option.value)}
          />
          <span>{option.words}</span>
        </label>
      ))}
    </fieldset>
  )
}

/** Sends something, keeps what the hub has against it. */
export function useSend(): {
  readonly problem: Problem | null
  readonly busy: boolean
  readonly send: (work: () => Promise<void>) => void
  readonly refuse: (errors: { path: string; message: string }[]) => void
} {
  const [problem, setProblem] = useState<Problem | null>(null)
  const [busy, setBusy] = useState(false)
  const send = (work: () => Promise<void>): void => {
    setBusy(true)
    setProblem(null)
    work()
      .catch((error: unknown) => setProblem(problemOf(error)))
      .finally(() => setBusy(false))
  }
  const refuse = (errors: { path: string; message: string }[]): void =>
    setProblem({
      type: 'about:blank',
      title: say`Please look at the marked fields`,
      status: 422,
      errors,
    })
  return { problem, busy, send, refuse }
}

/** What is wrong with a form beyond its fields. */
export function FormProblem({
  problem,
  fields,
}: {
  problem: Problem | null
  fields: readonly string[]
}) {
  const text = restOf(problem, fields)
  return (
    <p class="error" role="alert" hidden={text === null}>
      {text}
    </p>
  )
}
