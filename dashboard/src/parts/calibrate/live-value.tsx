import { useState } from 'preact/hooks'
import { api } from '../../api.ts'
import { age, num, span } from '../../format.ts'
import { unitWords } from '../../sensed-words.ts'
import { notNumber, parseNumber } from '../../number-field.ts'
import { useHub, useLoad, useNow } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { Field } from '../field.tsx'

const POLL_MS = 3000

interface LiveValueProps {
  readonly probe: string
  readonly channel: string
  /** Wire unit of the channel. */
  readonly unit: string
  /** How often the probe measures, s; null: it did not say. */
  readonly intervalS: number | null
  /** Since when it stands there, epoch ms. */
  readonly since: number
  /** What the buffers were entered with, degrees Celsius. */
  readonly temperatureC?: number | undefined
  readonly onTake: (value: number, settled: boolean) => void
}

/** What a probe shows just now, whether it has come to rest, and a way to take it down. */
export function LiveValue({
  probe,
  channel,
  unit,
  intervalS,
  since,
  temperatureC,
  onTake,
}: LiveValueProps) {
  const { garden, probeTick } = useHub()
  const now = useNow(POLL_MS)
  const [typed, setTyped] = useState('')
  const [wrong, setWrong] = useState<string | null>(null)
  const { data, problem } = useLoad(
    `settling ${probe} ${channel} ${since}`,
    (signal) => api.settling(probe, { channel, since, temperature: temperatureC }, signal),
    `${probeTick} ${Math.floor(now / POLL_MS)}`,
  )
  const words = unitWords(data?.unit ?? unit)
  const decimals = words === 'mV' ? 1 : 0
  const shown = (value: number): string => `${num(value, decimals, garden.units)} ${words}`
  const value = data?.value ?? null
  const settled = data?.state === 'settled'
  const waiting =
    intervalS === null
      ? say`The first reading comes when the probe next measures.`
      : say`The probe measures every ${intervalS < 120 ? span(intervalS) : say`${Math.round(intervalS / 60)} min`}; the first reading comes within that.`
  return (
    <div class="live-value" data-state={data?.state ?? 'nothing'} data-testid="live-value">
      <p class="figure">{value === null ? '–' : shown(value)}</p>
      <p class="faint">
        {data?.at === null || data?.at === undefined
          ? waiting
          : say`Newest reading ${age(data.at, now)}.`}
      </p>
      <p class="sentence" aria-live="polite">
        {data?.sentence ?? (problem === null ? say`Asking the hub …` : problem.title)}
      </p>
      {data?.warmth !== null && data?.warmth !== undefined && (
        <p class="sentence">
          <strong>{data.warmth}</strong>
        </p>
      )}
      <p class="buttons">
        {value !== null && (
          <button
            type="button"
            class={settled ? 'main' : ''}
            onClick={() => onTake(Math.round(value * 100) / 100, settled)}
          >
            {settled ? say`Take ${shown(value)}` : say`Take ${shown(value)} all the same`}
          </button>
        )}
      </p>
      <details>
        <summary>{say`The probe shows its value elsewhere`}</summary>
        <form
          noValidate
          class="hand-value"
          aria-label={say`A value typed`}
          onSubmit={(event) => {
            event.preventDefault()
            const number = parseNumber(typed)
            if (number === null) setWrong(notNumber(typed))
            else onTake(number, false)
          }}
        >
          <Field
            label={say`Value read off`}
            type="decimal"
            width="short"
            unit={words}
            value={typed}
            onInput={setTyped}
            error={wrong}
          />
          <button type="submit">{say`Take it`}</button>
        </form>
      </details>
    </div>
  )
}
