import type { Decision, ToldView as Told } from '../../../../hub/api/schemas/planning.ts'
import { dateOnly, num } from '../../format.ts'
import { fieldNumber, parseNumber } from '../../number-field.ts'
import type { Units } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { useState } from 'preact/hooks'
import { said, say } from '../../say.ts'
import { Why } from '../findings/finding.tsx'
import { Field } from '../field.tsx'
import { missingOf } from './plan-words.ts'
import { Question } from './question.tsx'
import { Settles } from './settle.tsx'
import { Sources } from './sources.tsx'
import { ToldList } from './told-list.tsx'

interface NeedProps {
  readonly decision: Decision
  readonly target: number | null
  readonly onTarget: (target: number | null) => void
  readonly onChanged: () => void
}

/** What is missing before a dose, what else is to be known, and what the pH means for nutrients. */
export function Need({ decision, target, onTarget, onChanged }: NeedProps) {
  const { garden } = useHub()
  const { need, bedId, soil } = decision
  const missing = missingOf(need)
  const known = need.told.filter(({ effect }) => effect === 'tell')
  const careful = need.told.filter((told) => !missing.includes(told) && !known.includes(told))
  const action = ({ settle }: Told) =>
    settle !== null && (
      <Settles
        ways={settle === 'jar test' ? ['jar test', 'laboratory'] : [settle]}
        bedId={bedId}
        soil={soil}
        onDone={onChanged}
      />
    )
  const { confirmation } = need
  return (
    <Question id="need" title={say`Does it need anything?`}>
      {missing.length > 0 && (
        <>
          <h3>{say`What is missing before anything goes on`}</h3>
          <ToldList told={missing} label={say`What is missing`} action={action} />
        </>
      )}
      {confirmation !== null && <p>{confirmationWords(confirmation, garden)}</p>}
      <ToldList told={careful} label={say`What to take care of`} action={action} />
      {known.length > 0 && (
        <details class="group">
          <summary>{say`Good to know (${known.length})`}</summary>
          <ToldList told={known} label={say`Good to know`} action={action} />
        </details>
      )}
      <Why grounds={need.grounds} of={say`what the pH of the bed rests on`} />
      {need.band !== null && <Aim {...{ decision, target, onTarget }} />}
      <h3>{say`What it means for nutrients`}</h3>
      <p class="sentence">{need.nutrients.sentence}</p>
      {need.nutrients.hard.length > 0 && (
        <details class="why">
          <summary>{say`Which, and why`}</summary>
          <ul>
            {need.nutrients.hard.map(({ name, why }) => (
              <li key={`${name} ${why}`}>
                <strong>{name}</strong>: {why}
              </li>
            ))}
          </ul>
          <Sources sources={need.nutrients.sources} />
        </details>
      )}
    </Question>
  )
}

function confirmationWords(
  { ph, method, at, apart }: NonNullable<Decision['need']['confirmation']>,
  where: { readonly zone: string; readonly units: Units },
): string {
  const value = num(ph, 2, where.units)
  const [how, day] = [said(method), dateOnly(at, where)]
  if (apart === null) return say`Newest sample by hand: pH ${value}, ${how}, ${day}.`
  const by = num(Math.abs(apart), 2, where.units)
  return apart < 0
    ? say`Newest sample by hand: pH ${value}, ${how}, ${day}; it lies ${by} below the probes.`
    : say`Newest sample by hand: pH ${value}, ${how}, ${day}; it lies ${by} above the probes.`
}

/** The gardener's own aim; left empty it lies just inside the band. */
function Aim({
  decision: { need },
  target,
  onTarget,
}: Pick<NeedProps, 'decision' | 'target' | 'onTarget'>) {
  const { garden } = useHub()
  const [text, setText] = useState(fieldNumber(target))
  const [error, setError] = useState<string | null>(null)
  const choose = (): void => {
    if (text.trim() === '') {
      setError(null)
      return onTarget(null)
    }
    const value = parseNumber(text)
    const { low = 0, high = 0 } = need.band ?? {}
    if (value === null || value < low || value > high) {
      const n = (ph: number): string => num(ph, 1, garden.units)
      return setError(say`expected a pH inside the band, ${n(low)} to ${n(high)}`)
    }
    setError(null)
    onTarget(Math.round(value * 100) / 100)
  }
  return (
    <details class="aim-form" open={target !== null}>
      <summary>{say`Another aim than ${num(need.target, 1, garden.units)}`}</summary>
      <form
        aria-label={say`Aim`}
        noValidate
        onSubmit={(event) => {
          event.preventDefault()
          choose()
        }}
      >
        <Field
          label={say`Where to go, pH`}
          type="decimal"
          width="short"
          hint={say`empty: just inside the near edge of the band, so that little is put on`}
          value={text}
          onInput={setText}
          error={error}
        />
        <p class="buttons">
          <button type="submit">{say`Reckon with it`}</button>
        </p>
      </form>
    </details>
  )
}
