import { useState } from 'preact/hooks'
import type { ProbeView } from '../../../../hub/api/schemas/probe.ts'
import { api } from '../../api.ts'
import { age, upTo } from '../../format.ts'
import { unitWords } from '../../sensed-words.ts'
import { fieldNumber, notNumber, parseNumber } from '../../number-field.ts'
import { useHub, useNow } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { say } from '../../say.ts'
import { Choices, Field, FormProblem, useSend } from '../field.tsx'
import { Form } from '../form.tsx'

const FIELDS = ['tinG', 'wetG', 'dryG', 'volumeCm3', 'bulkDensity', 'raw'] as const
type Name = (typeof FIELDS)[number]
const EMPTY: Readonly<Record<Name, string>> = {
  tinG: '',
  wetG: '',
  dryG: '',
  volumeCm3: '',
  bulkDensity: '',
  raw: '',
}

interface SoilPointFormProps {
  readonly probe: ProbeView
  readonly channel: string
  readonly unit: string
  readonly onPoint: (point: { readonly raw: number; readonly vwc: number }) => void
}

/** One soil weighed wet and dry, and what the probe showed in it; the hub does the arithmetic. */
export function SoilPointForm({ probe, channel, unit, onPoint }: SoilPointFormProps) {
  const { garden } = useHub()
  const now = useNow()
  const [draft, setDraft] = useState(EMPTY)
  const [by, setBy] = useState<'volumeCm3' | 'bulkDensity'>('volumeCm3')
  const [said, setSaid] = useState<string | null>(null)
  const { problem, busy, send, refuse } = useSend()
  const channelNow = probe.channels.find((c) => c.name === channel)
  const latest = channelNow?.latest ?? null
  const present = `${upTo(latest ?? 0, 0, garden.units)} ${unitWords(unit)}`
  const field = (name: Name, label: string, shownUnit: string, hint?: string) => (
    <Field
      label={label}
      type="decimal"
      width="short"
      unit={shownUnit}
      hint={hint}
      value={draft[name]}
      onInput={(value) => setDraft((old) => ({ ...old, [name]: value }))}
      error={errorFor(problem, name)}
    />
  )
  const save = (): void => {
    const needed = (['tinG', 'wetG', 'dryG', by, 'raw'] as const).map((path) => ({
      path,
      value: parseNumber(draft[path]),
      message: notNumber(draft[path]),
    }))
    const errors = needed.filter(({ value }) => value === null)
    if (errors.length > 0) return refuse(errors.map(({ path, message }) => ({ path, message })))
    const of = (path: Name): number => parseNumber(draft[path]) ?? 0
    send(async () => {
      const found = await api.waterByWeight({
        tinG: of('tinG'),
        wetG: of('wetG'),
        dryG: of('dryG'),
        volumeCm3: by === 'volumeCm3' ? of('volumeCm3') : null,
        // Typed in g/cm3, which is a thousand kg/m3.
        bulkDensity: by === 'bulkDensity' ? 1000 * of('bulkDensity') : null,
      })
      onPoint({ raw: of('raw'), vwc: Math.round(found.byVolume * 10_000) / 10_000 })
      setSaid(found.sentence)
      setDraft(EMPTY)
    })
  }
  return (
    <Form
      label={say`A soil of known water`}
      onSubmit={save}
      busy={busy}
      submit={say`Add this soil`}
    >
      <ol class="hand-steps">
        <li>{say`Note what the probe shows in the bed, then cut out the soil around its blade.`}</li>
        <li>{say`Weigh an empty tin, then the tin with the soil as it is.`}</li>
        <li>{say`Dry it at 105 °C (220 °F) until its weight no longer falls, a night at least, and weigh again. It gets hot: gloves, a ventilated room, and no plastic in the oven.`}</li>
      </ol>
      <FormProblem problem={problem} fields={FIELDS} />
      <div class="fields">
        <div>
          {field('raw', say`The probe showed`, unitWords(unit))}
          {latest !== null && (
            <button
              type="button"
              class="quiet"
              onClick={() => setDraft((old) => ({ ...old, raw: fieldNumber(latest) }))}
            >
              {channelNow?.latestAt === null || channelNow?.latestAt === undefined
                ? say`Use the present reading: ${present}`
                : say`Use the present reading: ${present}, ${age(channelNow.latestAt, now)}`}
            </button>
          )}
        </div>
        {field('tinG', say`Tin alone`, 'g')}
        {field('wetG', say`Tin and moist soil`, 'g')}
        {field('dryG', say`Tin and dry soil`, 'g')}
        <Choices
          legend={say`Known is`}
          value={by}
          options={[
            { value: 'volumeCm3', words: say`its volume` },
            { value: 'bulkDensity', words: say`its density` },
          ]}
          onChange={setBy}
        />
        {by === 'volumeCm3'
          ? field(
              'volumeCm3',
              say`Volume it filled in the bed`,
              'cm³',
              say`of a ring or tin pressed in`,
            )
          : field(
              'bulkDensity',
              say`Density when dry`,
              'g/cm³',
              say`garden soil 1.1 to 1.5, mixes 0.3 to 0.8`,
            )}
      </div>
      <p class="sentence" aria-live="polite" data-testid="water-by-weight">
        {said}
      </p>
    </Form>
  )
}
