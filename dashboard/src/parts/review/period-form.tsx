import { useState } from 'preact/hooks'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { go } from '../../use-route.ts'
import { Field } from '../field.tsx'
import { Link } from '../link.tsx'
import { periodOf, usualPeriods } from './period.ts'
import type { Days, PeriodErrors } from './period.ts'

interface PeriodFormProps {
  readonly bed: number | undefined
  readonly days: Days
  /** What is wrong with the days in the address. */
  readonly errors: PeriodErrors
  readonly now: number
}

/** Which days a report is about: usual ones to choose, any other to give. */
export function PeriodForm({ bed, days, errors: before, now }: PeriodFormProps) {
  const { zone } = useHub().garden
  const [draft, setDraft] = useState(days)
  const [errors, setErrors] = useState(before)
  const route = (of: Days) =>
    ({ page: 'report', ...(bed === undefined ? {} : { bed }), from: of.from, to: of.to }) as const
  const error = (path: 'from' | 'to'): string | null =>
    errors.find((said) => said.path === path)?.message ?? null
  const show = (): void => {
    const read = periodOf(draft, now, zone)
    setErrors(read.errors)
    if (read.period !== null) go(route(read.period.days))
  }
  return (
    <form
      class="period-form"
      aria-label={say`Period`}
      noValidate
      onSubmit={(event) => {
        event.preventDefault()
        show()
      }}
    >
      <ul class="jump" aria-label={say`Usual periods`}>
        {usualPeriods(now, zone).map((usual) => (
          <li key={usual.words}>
            <Link to={route(usual)} current={usual.from === days.from && usual.to === days.to}>
              {usual.words}
            </Link>
          </li>
        ))}
      </ul>
      <div class="fields">
        <Field
          label={say`First day`}
          type="date"
          width="short"
          value={draft.from}
          onInput={(from) => setDraft((old) => ({ ...old, from }))}
          error={error('from')}
        />
        <Field
          label={say`Last day`}
          type="date"
          width="short"
          value={draft.to}
          onInput={(to) => setDraft((old) => ({ ...old, to }))}
          error={error('to')}
        />
        <button type="submit">{say`Show this period`}</button>
      </div>
    </form>
  )
}
