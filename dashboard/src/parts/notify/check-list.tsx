interface Props<T extends string | number> {
  readonly legend: string
  readonly options: readonly { readonly value: T; readonly words: string }[]
  readonly chosen: readonly T[]
  readonly onChange: (chosen: readonly T[]) => void
  readonly error?: string | null
}

/** Several of a list. */
export function CheckList<T extends string | number>(props: Props<T>) {
  const { legend, options, chosen, onChange, error } = props
  return (
    <fieldset class="check-list">
      <legend>{legend}</legend>
      {options.map(({ value, words }) => (
        <label key={value}>
          <input
            type="checkbox"
            checked={chosen.includes(value)}
            onChange={(event) =>
              onChange(
                event.currentTarget.checked
                  ? options
                      .map((option) => option.value)
                      .filter((one) => one === value || chosen.includes(one))
                  : chosen.filter((one) => one !== value),
              )
            }
          />{' '}
          {words}
        </label>
      ))}
      {error && <small class="error">{error}</small>}
    </fieldset>
  )
}

/** One thing that is so or not. */
export function Check({
  words,
  checked,
  onChange,
}: {
  words: string
  checked: boolean
  onChange: (checked: boolean) => void
}) {
  return (
    <label class="check">
      <input
        type="checkbox"
        checked={checked}
        onChange={(event) => onChange(event.currentTarget.checked)}
      />{' '}
      {words}
    </label>
  )
}
