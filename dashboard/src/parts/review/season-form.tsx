import { useState } from 'preact/hooks'
import type { PlanningSettingsView } from '../../../../hub/api/schemas/planning.ts'
import { api } from '../../api.ts'
import { amount, localeOf } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { saidOptions, say, toSay } from '../../say.ts'
import { Choice, Choices, Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import { currencyOf } from './price-draft.ts'
import { seasonDraft, seasonOf } from './season-draft.ts'
import type { SeasonDraft } from './season-draft.ts'

const BY = [
  { value: 'soil', words: toSay("by the soil's own warmth") },
  { value: 'dates', words: toSay('by dates of my own') },
] as const

/** When the garden grows, and in which money it reckons. */
export function SeasonForm({ settings }: { settings: PlanningSettingsView }) {
  const { units } = useHub().garden
  const [draft, setDraft] = useState(() => seasonDraft(settings.season))
  const [currency, setCurrency] = useState(settings.currency ?? '')
  const [saved, setSaved] = useState(false)
  const { problem, busy, send, refuse } = useSend()
  const set = (change: Partial<SeasonDraft>): void => {
    setSaved(false)
    setDraft((old) => ({ ...old, ...change }))
  }
  const months = Array.from({ length: 12 }, (_, i) => ({
    value: String(i + 1).padStart(2, '0'),
    words: new Intl.DateTimeFormat(localeOf(units), { month: 'long', timeZone: 'UTC' }).format(
      Date.UTC(2024, i, 1),
    ),
  }))
  const save = (): void => {
    const { season, errors } = seasonOf(draft)
    if (errors.length > 0) {
      return refuse(errors.map(({ path, message }) => ({ path: `season.${path}`, message })))
    }
    send(async () => {
      // The prices belong to another form: they stay as they are.
      const now = await api.planningSettings()
      await api.savePlanningSettings({ ...now, season, currency: currencyOf(currency) })
      setSaved(true)
    })
  }
  return (
    <Form label={say`Planning`} busy={busy} submit={say`Save`} onSubmit={save}>
      <FormProblem problem={problem} fields={['season.from', 'season.to', 'currency']} />
      <div class="fields">
        <div class="field wide">
          <Choices
            legend={say`The growing season goes`}
            value={draft.by}
            options={saidOptions(BY)}
            onChange={(by) => set({ by })}
          />
          <small class="hint">
            {draft.by === 'soil'
              ? say`days with soil of ${amount('temperature', 10, units)} or more in the last year of the bed; until a year is known, dates usual for the zone`
              : say`it may run over the turn of the year, such as 1 October to 30 April`}
          </small>
        </div>
        {draft.by === 'dates' && (
          <>
            <Field
              label={say`First day`}
              type="decimal"
              width="short"
              value={draft.fromDay}
              onInput={(fromDay) => set({ fromDay })}
              error={errorFor(problem, 'season.from')}
            />
            <Choice
              label={say`Month of the first day`}
              value={draft.fromMonth}
              options={months}
              onChange={(fromMonth) => set({ fromMonth })}
            />
            <Field
              label={say`Last day`}
              type="decimal"
              width="short"
              value={draft.toDay}
              onInput={(toDay) => set({ toDay })}
              error={errorFor(problem, 'season.to')}
            />
            <Choice
              label={say`Month of the last day`}
              value={draft.toMonth}
              options={months}
              onChange={(toMonth) => set({ toMonth })}
            />
          </>
        )}
        <Field
          label={say`Currency of prices`}
          width="short"
          value={currency}
          hint={say`three letters, such as EUR; empty without prices`}
          onInput={(text) => {
            setSaved(false)
            setCurrency(text)
          }}
          error={errorFor(problem, 'currency')}
        />
      </div>
      <p role="status" class="faint">
        {saved ? say`Saved.` : ''}
      </p>
    </Form>
  )
}
