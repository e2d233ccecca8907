import { useState } from 'preact/hooks'
import type { PlanningSettingsView } from '../../../../hub/api/schemas/planning.ts'
import { api } from '../../api.ts'
import { useHub } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { said, say } from '../../say.ts'
import { Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'
import { PRICED, priceDraft, priceUnit, pricesOf } from './price-draft.ts'
import type { PriceDraft } from './price-draft.ts'

/** What materials cost, so that the review can say what an effect cost. */
export function Prices({
  settings,
  onSaved,
}: {
  settings: PlanningSettingsView
  onSaved: () => void
}) {
  const { units } = useHub().garden
  const [draft, setDraft] = useState<PriceDraft>(() => priceDraft(settings, units))
  const [saved, setSaved] = useState(false)
  const [sent, setSent] = useState<PlanningSettingsView['prices']>([])
  const { problem, busy, send, refuse } = useSend()
  const set = (change: Partial<PriceDraft>): void => {
    setSaved(false)
    setDraft((old) => ({ ...old, ...change }))
  }
  // The hub names a price by its place in what was sent.
  const error = (slug: string): string | null => {
    const place = sent.findIndex(({ material }) => material === slug)
    return errorFor(problem, slug) ?? (place < 0 ? null : errorFor(problem, `prices.${place}`))
  }
  const save = (): void =>
    send(async () => {
      // Whatever else was settled meanwhile stays as it is.
      const read = pricesOf(draft, await api.planningSettings(), units)
      if (read.errors.length > 0) return refuse(read.errors)
      setSent(read.settings.prices)
      await api.savePlanningSettings(read.settings)
      setSaved(true)
      onSaved()
    })
  const shown = ['currency', 'prices', ...PRICED.map(({ slug }) => slug)]
  return (
    <Form label={say`Prices`} busy={busy} submit={say`Save the prices`} onSubmit={save}>
      <FormProblem problem={problem} fields={shown} />
      <div class="fields">
        <Field
          label={say`Currency`}
          width="short"
          value={draft.currency}
          hint={say`three letters, such as EUR`}
          onInput={(currency) => set({ currency })}
          error={errorFor(problem, 'currency')}
        />
      </div>
      <div class="fields gap">
        {PRICED.map(({ slug, name }) => (
          <Field
            key={slug}
            label={said(name)}
            type="decimal"
            width="short"
            unit={say`per ${priceUnit(units)}`}
            value={draft.prices[slug] ?? ''}
            onInput={(text) => set({ prices: { ...draft.prices, [slug]: text } })}
            error={error(slug)}
          />
        ))}
      </div>
      <p role="status" class="faint">
        {saved ? say`Saved; the costs above are reckoned anew.` : ''}
      </p>
    </Form>
  )
}
