import { useState } from 'preact/hooks'
import type { CalibrationEffectView } from '../../../../hub/api/schemas/calibrating.ts'
import type { CalibrationInput } from '../../../../hub/api/schemas/probe.ts'
import { api } from '../../api.ts'
import { dateTime, num } from '../../format.ts'
import { useHub, useLoad } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { said, say, toSay } from '../../say.ts'
import { fromInputTime, toInputTime } from '../../input-time.ts'
import { CheckWords } from '../calibration-form.tsx'
import { Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'

const ROWS = [
  ['present', toSay('Newest hour')],
  ['middle', toSay('Middle of 30 days')],
  ['low', toSay('Lowest hour in twenty')],
  ['high', toSay('Highest hour in twenty')],
] as const

/** What is stored now and what it would read, side by side. */
function Effect({ effect }: { effect: CalibrationEffectView }) {
  const { garden } = useHub()
  const shown = (value: number | null, scale: CalibrationEffectView['scaleNow']): string =>
    effect.quantity === 'ph'
      ? num(value, 2, garden.units)
      : value === null
        ? '–'
        : scale === 'volume'
          ? say`${num(100 * value, 0, garden.units)} % by volume`
          : `${num(100 * value, 0, garden.units)} %`
  return (
    <>
      <p class="sentence">{effect.sentence}</p>
      {effect.at !== null && (
        <table>
          <caption>
            {effect.quantity === 'ph'
              ? say`pH, up to ${dateTime(effect.at, garden)}`
              : say`Moisture, up to ${dateTime(effect.at, garden)}`}
          </caption>
          <thead>
            <tr>
              <th scope="col">{say`Reads`}</th>
              <th scope="col" class="n">{say`Stored`}</th>
              <th scope="col" class="n">{say`With this`}</th>
            </tr>
          </thead>
          <tbody>
            {ROWS.map(([key, words]) => (
              <tr key={key}>
                <th scope="row">{said(words)}</th>
                <td class="n">{shown(effect[key].now, effect.scaleNow)}</td>
                <td class="n">{shown(effect[key].then, effect.scaleThen)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </>
  )
}

interface JudgementProps {
  readonly probe: string
  /** When the probe was taken out of its soil, epoch ms: the effect is shown on what came before. */
  readonly before: number
  /** The calibration with the date and remark of the form. */
  readonly make: (at: number, note: string) => CalibrationInput | null
  readonly onStored: () => void
}

/** The hub's verdict, the effect on what is stored, and storing it. */
export function Judgement({ probe, before, make, onStored }: JudgementProps) {
  const { garden, aheadMs } = useHub()
  const [at, setAt] = useState(() => toInputTime(Date.now() + aheadMs, garden.zone))
  const [note, setNote] = useState('')
  const { problem, busy, send, refuse } = useSend()
  const time = fromInputTime(at, garden.zone)
  const made = time === null ? null : make(time, note)
  const key = time === null ? null : JSON.stringify(make(time, ''))
  const check = useLoad(key, (signal) => api.checkCalibration(probe, made!, signal))
  const effect = useLoad(key === null ? null : `${key} ${before}`, (signal) =>
    api.calibrationEffect(probe, made!, before, signal),
  )
  const save = (): void => {
    if (made === null) return refuse([{ path: 'at', message: say`give a day and a time` }])
    send(async () => {
      await api.addCalibration(probe, made)
      onStored()
    })
  }
  return (
    <>
      <div aria-live="polite" data-testid="verdict">
        {check.data !== null && <CheckWords check={check.data} />}
        {check.problem !== null && (
          <p class="error">
            {[
              check.problem.title,
              ...(check.problem.errors ?? []).map(({ message }) => message),
            ].join(': ')}
          </p>
        )}
      </div>
      <h3>{say`What it changes`}</h3>
      <div data-testid="effect">
        {effect.data !== null && <Effect effect={effect.data} />}
        {effect.problem !== null && <p class="error">{effect.problem.title}</p>}
      </div>
      <Form label={say`Store the calibration`} onSubmit={save} busy={busy} submit={say`Store it`}>
        <FormProblem problem={problem} fields={['at', 'note']} />
        <div class="fields">
          <Field
            label={say`Holds from`}
            type="datetime-local"
            value={at}
            onInput={setAt}
            hint={say`on the garden's clock, ${garden.zone}; an earlier date reads what is stored anew`}
            error={errorFor(problem, 'at')}
          />
          <Field
            label={say`Remark`}
            value={note}
            onInput={setNote}
            error={errorFor(problem, 'note')}
          />
        </div>
      </Form>
    </>
  )
}
