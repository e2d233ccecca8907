import { useState } from 'preact/hooks'
import type { MeasuringPlan } from '../../../hub/api/schemas/measuring.ts'
import type { SampleMethod } from '../../../hub/model/journal.ts'
import { api } from '../api.ts'
import { num } from '../format.ts'
import { fieldNumber, notNumber, parseNumber } from '../number-field.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import { Choice, Choices, Field, FormProblem, useSend } from '../parts/field.tsx'
import { Link } from '../parts/link.tsx'
import { Countdown } from '../parts/measure/countdown.tsx'
import { errorFor } from '../problem.ts'
import { said, say } from '../say.ts'
import { useKept } from '../use-kept.ts'
import { waitingQueue } from '../waiting-here.ts'
import { go } from '../use-route.ts'
import '../parts/measure/measure.css'

interface Session {
  readonly method: SampleMethod
  readonly wanted: number
  readonly values: readonly number[]
  readonly text: string
}
const BEGIN: Session = { method: 'hand meter', wanted: 0.2, values: [], text: '' }

function Protocol({ plan, method }: { plan: MeasuringPlan; method: SampleMethod }) {
  const protocol = plan.protocols.find(({ methods }) => methods.includes(method))
  if (protocol === undefined) return null
  return (
    <>
      <ol class="hand-steps">
        {protocol.steps.map((step) => (
          <li key={step.title}>
            <strong>{step.title}.</strong> {step.text}
            {step.waitS !== null && <Countdown seconds={step.waitS} />}
          </li>
        ))}
      </ol>
      <p class="faint">{say`The usual way: ${protocol.sources.join('; ')}.`}</p>
    </>
  )
}

/** A session of measuring one bed by hand, spot by spot. */
export function MeasureView({ id }: { id: number }) {
  const { beds, loaded, garden, aheadMs, refresh } = useHub()
  const [session, setSession, forget] = useKept<Session>(`loamline measure ${id}`, BEGIN)
  const [typed, setTyped] = useState('')
  const [wrong, setWrong] = useState<string | null>(null)
  const { problem, busy, send } = useSend()
  const bed = beds.find((b) => b.id === id)
  const { method, wanted, values, text } = session
  const set = (change: Partial<Session>): void => setSession({ ...session, ...change })
  const plan = useLoad(loaded && bed !== undefined ? `measuring ${id} ${wanted}` : null, (signal) =>
    api.measuring(id, wanted, signal),
  )
  const checkKey = values.length === 0 ? null : `${wanted} ${values.join(' ')}`
  const result = useLoad(checkKey, (signal) =>
    api.checkValues(id, { values: [...values], wanted }, signal),
  )
  if (bed === undefined) {
    return loaded ? (
      <>
        <h1>{say`No such bed`}</h1>
        <p class="sentence">
          {say`There is no bed ${id} in use.`}{' '}
          <Link to={{ page: 'garden' }}>{say`Back to the garden`}</Link>
        </p>
      </>
    ) : (
      <p class="quiet-line">{say`Fetching the garden …`}</p>
    )
  }
  const add = (): void => {
    const value = parseNumber(typed)
    if (value === null) return setWrong(notNumber(typed))
    if (value < 0 || value > 14)
      return setWrong(say`expected a pH of 0 to 14, got ${fieldNumber(value)}`)
    setWrong(null)
    setTyped('')
    set({ values: [...values, value] })
  }
  const save = (): void =>
    send(async () => {
      const at = Date.now() + aheadMs
      const queue = await waitingQueue()
      await queue.add(id, {
        kind: 'sample',
        body: { at, method, values: [...values], wanted, text },
      })
      forget()
      await refresh('beds')
      go({ page: 'bed', id })
    })
  const found = values.length > 0 ? result.data : null
  const about = found === null ? plan.data?.spots : found.n + found.more
  return (
    <div data-measure={id} class="hand-page">
      <header class="hand-head">
        <p class="crops">
          <Link to={{ page: 'bed', id }}>{bed.name}</Link>
        </p>
        <h1>{say`Measure by hand`}</h1>
      </header>
      <section class="sheet" aria-labelledby="hand-how">
        <h2 id="hand-how">{say`How`}</h2>
        <div class="fields">
          <Choice
            label={say`With`}
            value={method}
            options={(plan.data?.protocols ?? []).flatMap(({ methods }) =>
              methods.map((value) => ({ value, words: said(value) })),
            )}
            onChange={(value) => {
              const next = plan.data?.protocols
                .flatMap(({ methods }) => methods)
                .find((one) => one === value)
              if (next !== undefined) set({ method: next })
            }}
            {...(method === 'slurry CaCl2' && plan.data !== null ? { hint: plan.data.scales } : {})}
          />
          <Choices
            legend={say`Wanted, ± pH`}
            value={wanted}
            options={[0.1, 0.2, 0.3].map((value) => ({
              value,
              words: num(value, 1, garden.units),
            }))}
            onChange={(next) => set({ wanted: next })}
          />
        </div>
        {plan.data !== null && <p class="sentence hand-plan">{plan.data.sentence}</p>}
        {plan.problem !== null && <p class="error">{plan.problem.title}</p>}
      </section>
      <section class="sheet" aria-labelledby="hand-spot">
        <h2 id="hand-spot">
          {about !== undefined && values.length < about
            ? say`Spot ${values.length + 1} of about ${about}`
            : say`Spot ${values.length + 1}`}
        </h2>
        {plan.data !== null && <Protocol key={values.length} plan={plan.data} method={method} />}
        <form
          aria-label={say`The value of this spot`}
          noValidate
          class="hand-value"
          onSubmit={(event) => {
            event.preventDefault()
            add()
          }}
        >
          <Field
            label={say`pH in spot ${values.length + 1}`}
            type="decimal"
            width="short"
            value={typed}
            onInput={setTyped}
            error={wrong}
          />
          <button type="submit" class="main">{say`Note it, next spot`}</button>
        </form>
      </section>
      <section class="sheet" aria-labelledby="hand-result">
        <h2 id="hand-result">{say`So far`}</h2>
        {values.length === 0 && <p class="faint">{say`No value yet.`}</p>}
        <ul class="hand-values" aria-label={say`Values`}>
          {values.map((value, i) => (
            // Two spots may well read alike: their number tells them apart.
            <li key={`${i} ${value}`}>
              <span>
                {i + 1}. <strong>{num(value, 2, garden.units)}</strong>
              </span>
              <button
                type="button"
                class="quiet"
                aria-label={say`Take back the value of spot ${i + 1}`}
                onClick={() => set({ values: values.filter((_, k) => k !== i) })}
              >{say`Take back`}</button>
            </li>
          ))}
        </ul>
        <div aria-live="polite" data-testid="hand-result">
          {found !== null && (
            <p class="sentence">
              {found.sentence} <small class="faint">{found.source}</small>
            </p>
          )}
          {result.problem !== null && <p class="error">{result.problem.title}</p>}
        </div>
        <Field
          label={say`Remark`}
          value={text}
          onInput={(words) => set({ text: words })}
          error={errorFor(problem, 'text')}
        />
        <FormProblem problem={problem} fields={['text']} />
        <p class="buttons">
          <button
            type="button"
            class="main"
            aria-disabled={busy || values.length === 0}
            onClick={() => {
              if (!busy && values.length > 0) save()
            }}
          >{say`Save as one sample`}</button>
        </p>
      </section>
    </div>
  )
}
