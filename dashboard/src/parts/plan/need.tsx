import type { Decision, ToldView as Told } from '../../../../hub/api/schemas/planning.ts'
import { dateOnly, num, parseNumber } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { useState } from 'preact/hooks'
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
    <Question id="need" title="Does it need anything?">
      {missing.length > 0 && (
        <>
          <h3>What is missing before anything goes on</h3>
          <ToldList told={missing} label="What is missing" action={action} />
        </>
      )}
      {confirmation !== null && (
        <p>
          Newest sample by hand: pH {num(confirmation.ph, 2, garden.units)}, {confirmation.method},{' '}
          {dateOnly(confirmation.at, garden)}
          {confirmation.apart !== null &&
            `; it lies ${num(Math.abs(confirmation.apart), 2, garden.units)} ${confirmation.apart < 0 ? 'below' : 'above'} the probes`}
          .
        </p>
      )}
      <ToldList told={careful} label="What to take care of" action={action} />
      {known.length > 0 && (
        <details class="group">
          <summary>Good to know ({known.length})</summary>
          <ToldList told={known} label="Good to know" action={action} />
        </details>
      )}
      <Why grounds={need.grounds} of="what the pH of the bed rests on" />
      {need.band !== null && <Aim {...{ decision, target, onTarget }} />}
      <h3>What it means for nutrients</h3>
      <p class="sentence">{need.nutrients.sentence}</p>
      {need.nutrients.hard.length > 0 && (
        <details class="why">
          <summary>Which, and why</summary>
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

/** The gardener's own aim; left empty it lies just inside the band. */
function Aim({
  decision: { need },
  target,
  onTarget,
}: Pick<NeedProps, 'decision' | 'target' | 'onTarget'>) {
  const { garden } = useHub()
  const [text, setText] = useState(target === null ? '' : String(target))
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
      return setError(`expected a pH inside the band, ${n(low)} to ${n(high)}`)
    }
    setError(null)
    onTarget(Math.round(value * 100) / 100)
  }
  return (
    <details class="aim-form" open={target !== null}>
      <summary>Another aim than {num(need.target, 1, garden.units)}</summary>
      <form
        aria-label="Aim"
        noValidate
        onSubmit={(event) => {
          event.preventDefault()
          choose()
        }}
      >
        <Field
          label="Where to go, pH"
          type="decimal"
          width="short"
          hint="empty: just inside the near edge of the band, so that little is put on"
          value={text}
          onInput={setText}
          error={error}
        />
        <p class="buttons">
          <button type="submit">Reckon with it</button>
        </p>
      </form>
    </details>
  )
}
