import { useState } from 'preact/hooks'
import type { BufferSet } from '../../../../hub/api/schemas/garden.ts'
import type { ProbeView } from '../../../../hub/api/schemas/probe.ts'
import { age, amount, num, toShown, toStored, unitName, upTo } from '../../format.ts'
import { parseNumber } from '../../number-field.ts'
import { guidedCalibration, phOf, startProblem, usualPair } from '../../guide-draft.ts'
import type { GuideDraft } from '../../guide-draft.ts'
import { useHub, useNow } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { Choice, Field } from '../field.tsx'
import { Judgement } from './judgement.tsx'
import { LiveValue } from './live-value.tsx'
import { Steps } from './steps.tsx'

interface ElectrodeGuideProps {
  readonly probe: ProbeView
  readonly sets: readonly BufferSet[]
  readonly draft: GuideDraft
  readonly onDraft: (draft: GuideDraft) => void
  readonly onStored: () => void
}

/** Calibrates an electrode in two or three buffers, step by step. */
export function ElectrodeGuide(props: ElectrodeGuideProps) {
  const { probe, sets, draft, onDraft, onStored } = props
  const { garden } = useHub()
  const { units } = garden
  const set = sets.find(({ id }) => id === draft.set)
  const next = draft.wanted[draft.taken.length]
  const change = (some: Partial<GuideDraft>): void => onDraft({ ...draft, ...some })
  const steps = [
    say`Get ready`,
    ...draft.wanted.map((name) => say`Buffer ${name}`),
    say`Judge and store`,
  ]
  const at = draft.startedAt === null ? 0 : draft.taken.length + 1
  return (
    <>
      <Steps steps={steps} at={at} />
      {draft.startedAt === null ? (
        <Ready {...props} set={set} />
      ) : next !== undefined ? (
        <InBuffer key={next} {...props} set={set} name={next} />
      ) : (
        <section class="sheet" aria-labelledby="guide-judge">
          <h2 id="guide-judge">{say`Judge and store`}</h2>
          <ul class="hand-values" aria-label={say`Buffers taken`}>
            {draft.taken.map((taken) => (
              <li key={taken.name}>
                <span>
                  pH {upTo(taken.ph, 3, units)}:{' '}
                  <strong>{`${num(taken.emfMv, 1, units)} mV`}</strong>
                  {!taken.settled && <small class="faint"> {say`not seen to settle`}</small>}
                </span>
                {draft.taken.length === 3 && (
                  <button
                    type="button"
                    class="quiet"
                    onClick={() =>
                      change({
                        wanted: draft.wanted.filter((name) => name !== taken.name),
                        taken: draft.taken.filter((one) => one !== taken),
                      })
                    }
                  >{say`Leave it out`}</button>
                )}
              </li>
            ))}
          </ul>
          <p class="faint">
            {say`${set?.name ?? ''} at ${amount('temperature', draft.temperatureC ?? NaN, units)} (${set?.source ?? ''}).`}{' '}
            {draft.taken.length === 3 && say`The line of least squares through all three is taken.`}
          </p>
          {draft.taken.length === 2 && <ThirdBuffer set={set} draft={draft} onDraft={onDraft} />}
          <Judgement
            probe={probe.id}
            before={draft.startedAt}
            make={(time, note) => guidedCalibration(draft, 'electrode', time, note)}
            onStored={onStored}
          />
        </section>
      )}
    </>
  )
}

/** A buffer more tells whether the electrode keeps to one line. */
function ThirdBuffer({
  set,
  draft,
  onDraft,
}: {
  set: BufferSet | undefined
  draft: GuideDraft
  onDraft: (draft: GuideDraft) => void
}) {
  const left = (set?.buffers ?? []).filter(
    ({ name }) => !draft.wanted.includes(name) && phOf(set, name, draft.temperatureC) !== null,
  )
  return (
    <p class="buttons">
      {left.map(({ name }) => (
        <button
          key={name}
          type="button"
          onClick={() => onDraft({ ...draft, wanted: [...draft.wanted, name], since: null })}
        >{say`Add buffer ${name}`}</button>
      ))}
    </p>
  )
}

type WithSet = ElectrodeGuideProps & { readonly set: BufferSet | undefined }

function Ready({ probe, sets, set, draft, onDraft }: WithSet) {
  const { garden, aheadMs } = useHub()
  const now = useNow()
  const { units } = garden
  const [temperature, setTemperature] = useState(
    draft.temperatureC === null
      ? ''
      : upTo(toShown('temperature', draft.temperatureC, units), 1, units),
  )
  const [wrong, setWrong] = useState<string | null>(null)
  const thermometer = probe.channels.find((c) => c.senses === 'temp.soil' && c.unit === 'Cel')
  const celsiusOf = (text: string): number | null => {
    const shown = parseNumber(text)
    return shown === null ? null : Math.round(toStored('temperature', shown, units) * 100) / 100
  }
  const warm = (text: string): void => {
    setTemperature(text)
    setWrong(null)
    onDraft({ ...draft, temperatureC: celsiusOf(text) })
  }
  const name = (i: number, value: string): void =>
    onDraft({ ...draft, wanted: draft.wanted.map((old, k) => (k === i ? value : old)) })
  const latest = thermometer?.latest ?? null
  return (
    <section class="sheet" aria-labelledby="guide-ready">
      <h2 id="guide-ready">{say`Get ready`}</h2>
      <p class="sentence">{say`Have fresh buffers, distilled water and a cloth at hand, and let electrode and buffers come to one temperature: within ${units === 'us' ? '4 °F' : '2 °C'} of each other. Write in the set that stands on the bottles: pH 7 of one set is 6.86 in another.`}</p>
      <div class="fields">
        <Choice
          label={say`Buffer set`}
          value={draft.set}
          options={sets.map((s) => ({ value: s.id, words: s.name }))}
          onChange={(id) => {
            const other = sets.find((s) => s.id === id)
            if (other !== undefined) onDraft({ ...draft, set: other.id, wanted: usualPair(other) })
          }}
          {...(set === undefined ? {} : { hint: set.source })}
        />
        <div>
          <Field
            label={say`Temperature of the buffers`}
            type="decimal"
            width="short"
            unit={unitName('temperature', units)}
            value={temperature}
            onInput={warm}
            error={wrong}
          />
          {latest !== null && (
            <button
              type="button"
              class="quiet"
              onClick={() => warm(upTo(toShown('temperature', latest, units), 1, units))}
            >
              {thermometer?.latestAt === null || thermometer?.latestAt === undefined
                ? say`Use the probe's own: ${amount('temperature', latest, units)}`
                : say`Use the probe's own: ${amount('temperature', latest, units)}, ${age(thermometer.latestAt, now)}`}
            </button>
          )}
        </div>
        {draft.wanted.map((chosen, i) => (
          <Choice
            key={i}
            label={i === 0 ? say`First buffer` : say`Second buffer`}
            value={chosen}
            options={(set?.buffers ?? []).map((b) => {
              const ph = phOf(set, b.name, draft.temperatureC)
              return {
                value: b.name,
                words: ph === null ? b.name : say`${b.name}: pH ${upTo(ph, 3, units)} now`,
              }
            })}
            onChange={(value) => name(i, value)}
          />
        ))}
      </div>
      <p class="buttons">
        <button
          type="button"
          class="main"
          onClick={() => {
            const missing = startProblem(draft, set)
            setWrong(missing)
            if (missing === null) onDraft({ ...draft, startedAt: Date.now() + aheadMs })
          }}
        >{say`Begin`}</button>
      </p>
    </section>
  )
}

function InBuffer({ probe, set, draft, onDraft, name }: WithSet & { readonly name: string }) {
  const { garden, aheadMs } = useHub()
  const ph = phOf(set, name, draft.temperatureC)
  const channel = probe.channels.find((c) => c.name === draft.channel)
  return (
    <section class="sheet" aria-labelledby="guide-buffer">
      <h2 id="guide-buffer">{say`Buffer ${name}: pH ${ph === null ? '–' : upTo(ph, 3, garden.units)} at ${amount('temperature', draft.temperatureC ?? NaN, garden.units)}`}</h2>
      <ol class="hand-steps">
        <li>{say`Rinse the electrode with distilled water and dab it dry; do not rub the glass.`}</li>
        <li>{say`Stand it in fresh buffer, over the junction, and swirl once.`}</li>
        <li>{say`Wait until the value has settled, then take it.`}</li>
      </ol>
      {draft.since === null ? (
        <p class="buttons">
          <button
            type="button"
            class="main"
            onClick={() => onDraft({ ...draft, since: Date.now() + aheadMs })}
          >{say`It stands in the buffer`}</button>
        </p>
      ) : (
        <LiveValue
          probe={probe.id}
          channel={draft.channel}
          unit={channel?.unit ?? 'mV'}
          intervalS={probe.intervalS}
          since={draft.since}
          temperatureC={draft.temperatureC ?? undefined}
          onTake={(emfMv, settled) =>
            ph !== null &&
            onDraft({
              ...draft,
              taken: [...draft.taken, { name, ph, emfMv, settled }],
              since: null,
            })
          }
        />
      )}
      <p class="buttons">
        <button
          type="button"
          class="quiet"
          onClick={() =>
            onDraft(
              draft.taken.length === 0
                ? { ...draft, startedAt: null, since: null }
                : { ...draft, taken: draft.taken.slice(0, -1), since: null },
            )
          }
        >{say`One step back`}</button>
      </p>
    </section>
  )
}
