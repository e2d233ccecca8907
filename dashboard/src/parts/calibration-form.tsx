import { useEffect, useMemo, useState } from 'preact/hooks'
import type { BufferSet } from '../../../hub/api/schemas/garden.ts'
import type {
  CalibrationCheck,
  CalibrationView,
  ProbeView,
} from '../../../hub/api/schemas/probe.ts'
import type { Problem } from '../../../hub/api/schemas/common.ts'
import { problemOf } from '../ask.ts'
import { api } from '../api.ts'
import { bufferPh, calibrationDraft, calibrationOf } from '../calibration-draft.ts'
import type { CalibrationDraft } from '../calibration-draft.ts'
import { age, toStored, unitName, upTo } from '../format.ts'
import { unitWords } from '../sensed-words.ts'
import { fieldNumber, parseNumber } from '../number-field.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { errorFor } from '../problem.ts'
import { said, say, toSay } from '../say.ts'
import { CalibrationCaution } from './caution.tsx'
import { Choice, Field, FormProblem, useSend } from './field.tsx'
import { Form } from './form.tsx'

type Channel = ProbeView['channels'][number]
const CHECK_AFTER_MS = 400
const SHOWN = ['channel', 'at', 'points', 'temperatureC', 'dryRaw', 'wetRaw', 'note']

export const VERDICT_WORDS: Readonly<Record<CalibrationCheck['verdict'], string>> = {
  good: toSay('Good'),
  usable: toSay('Usable'),
  reject: toSay('Not fit for use'),
}

/** What a calibration amounts to; its figures are in the hub's sentence. */
export function CheckWords({ check }: { check: CalibrationCheck }) {
  return (
    <p class="sentence">
      <strong>{said(VERDICT_WORDS[check.verdict])}.</strong> {check.sentence}
      {check.source !== '' && <small class="faint"> {check.source}</small>}
    </p>
  )
}

/** Asks the hub what the draft would amount to, a moment after the last change. */
function useDryRun(probe: string, draft: CalibrationDraft) {
  const { garden } = useHub()
  const [state, setState] = useState<{ check: CalibrationCheck | null; problem: Problem | null }>({
    check: null,
    problem: null,
  })
  const made = calibrationOf(draft, garden)
  const text = made.errors.length > 0 ? '' : JSON.stringify(made.calibration)
  useEffect(() => {
    setState({ check: null, problem: null })
    if (text === '') return
    const abort = new AbortController()
    const timer = setTimeout(() => {
      api.checkCalibration(probe, made.calibration, abort.signal).then(
        (check) => setState({ check, problem: null }),
        (error: unknown) => {
          const problem = abort.signal.aborted ? null : problemOf(error)
          if (problem !== null) setState({ check: null, problem })
        },
      )
    }, CHECK_AFTER_MS)
    return () => {
      clearTimeout(timer)
      abort.abort()
    }
  }, [probe, text])
  return state
}

interface RawFieldProps {
  readonly label: string
  readonly hint?: string
  readonly value: string
  readonly channel: Channel | undefined
  readonly error: string | null
  readonly onInput: (value: string) => void
}

/** A raw value, typed or taken from what the probe sent last. */
function RawField({ label, hint, value, channel, error, onInput }: RawFieldProps) {
  const { garden } = useHub()
  const now = useNow()
  const latest = channel?.latest ?? null
  const present = `${upTo(latest ?? 0, 2, garden.units)} ${unitWords(channel?.unit ?? '')}`
  return (
    <div>
      <Field
        label={label}
        hint={hint}
        type="decimal"
        width="short"
        unit={unitWords(channel?.unit ?? '')}
        value={value}
        onInput={onInput}
        error={error}
      />
      {latest !== null && (
        <button type="button" class="quiet" onClick={() => onInput(fieldNumber(latest))}>
          {channel?.latestAt === null || channel?.latestAt === undefined
            ? say`Use the present reading: ${present}`
            : say`Use the present reading: ${present}, ${age(channel.latestAt, now)}`}
        </button>
      )}
    </div>
  )
}

interface CalibrationFormProps {
  readonly probe: ProbeView
  /** The one to correct; null enters a new one. */
  readonly calibration: CalibrationView | null
  readonly onDone: () => void
}

/** Enters a calibration: two buffers for an electrode, a dry and a wet point for a moisture channel. */
export function CalibrationForm({ probe, calibration, onDone }: CalibrationFormProps) {
  const { garden, aheadMs } = useHub()
  const channels = [
    ...probe.channels.filter((c) => c.senses === 'ph.emf'),
    ...probe.channels.filter((c) => c.senses === 'moist.raw'),
  ]
  const [setId, setSetId] = useState('')
  const [names, setNames] = useState<readonly [string, string]>(['', ''])
  const [draft, setDraft] = useState<CalibrationDraft>(() =>
    calibrationDraft(calibration, channels[0], Date.now() + aheadMs, garden),
  )
  const buffers = useLoad('buffers', api.buffers)
  const { problem, busy, send, refuse } = useSend()
  const dryRun = useDryRun(probe.id, draft)
  const set = (change: Partial<CalibrationDraft>): void =>
    setDraft((old) => ({ ...old, ...change }))
  const channel = channels.find((c) => c.name === draft.channel)
  const sets = useMemo(() => buffers.data ?? [], [buffers.data])
  const chosen: BufferSet | undefined = sets.find((s) => s.id === setId) ?? sets[0]

  /** pH fields filled from the table wherever buffer and temperature allow it. */
  const filled = (
    temperature: string,
    buffersNamed: readonly [string, string],
  ): readonly [string, string] => {
    const shown = parseNumber(temperature)
    const phOf = (i: 0 | 1): string => {
      const buffer = chosen?.buffers.find((b) => b.name === buffersNamed[i])
      if (buffer === undefined) return draft.ph[i]
      const ph =
        shown === null ? null : bufferPh(buffer, toStored('temperature', shown, garden.units))
      return ph === null ? '' : String(Math.round(ph * 1000) / 1000)
    }
    return [phOf(0), phOf(1)]
  }
  const nameBuffer = (i: 0 | 1, name: string): void => {
    const next: readonly [string, string] = i === 0 ? [name, names[1]] : [names[0], name]
    setNames(next)
    set({ ph: filled(draft.temperature, next) })
  }
  const pair = (
    of: readonly [string, string],
    i: 0 | 1,
    value: string,
  ): readonly [string, string] => (i === 0 ? [value, of[1]] : [of[0], value])
  const error = (path: string): string | null =>
    errorFor(problem, path) ?? errorFor(dryRun.problem, path)
  const save = (): void => {
    const made = calibrationOf(draft, garden)
    if (made.errors.length > 0) return refuse(made.errors)
    send(async () => {
      if (calibration === null) await api.addCalibration(probe.id, made.calibration)
      else await api.changeCalibration(calibration.id, made.calibration)
      onDone()
    })
  }
  if (channels.length === 0) {
    return (
      <p class="sentence">
        {say`This probe has not sent an electrode or a raw moisture channel yet; there is nothing to calibrate.`}{' '}
        <button type="button" onClick={onDone}>{say`Close`}</button>
      </p>
    )
  }
  return (
    <Form
      label={calibration === null ? say`New calibration` : say`Correct the calibration`}
      onSubmit={save}
      busy={busy}
      submit={say`Save calibration`}
      onCancel={onDone}
    >
      <CalibrationCaution />
      <FormProblem problem={problem} fields={SHOWN} />
      <div class="fields">
        <Choice
          label={say`Channel`}
          value={draft.channel}
          options={channels.map((c) => ({
            value: c.name,
            words: `${c.name}, ${c.senses === 'ph.emf' ? say`pH electrode` : say`raw moisture`}`,
          }))}
          onChange={(name) => {
            const next = channels.find((c) => c.name === name)
            set({ channel: name, kind: next?.senses === 'moist.raw' ? 'moisture' : 'electrode' })
          }}
          error={error('channel')}
        />
        <Field
          label={say`Holds from`}
          type="datetime-local"
          value={draft.at}
          onInput={(at) => set({ at })}
          hint={say`on the garden's clock, ${garden.zone}`}
          error={error('at')}
        />
      </div>
      {draft.kind === 'electrode' ? (
        <>
          <div class="fields gap">
            <Choice
              label={say`Buffer set`}
              value={chosen?.id ?? ''}
              options={sets.map((s) => ({ value: s.id, words: s.name }))}
              onChange={(value) => {
                setSetId(value)
                setNames(['', ''])
              }}
              {...(chosen === undefined ? {} : { hint: chosen.source })}
            />
            <Field
              label={say`Buffers’ temperature`}
              type="decimal"
              width="short"
              unit={unitName('temperature', garden.units)}
              value={draft.temperature}
              onInput={(temperature) => set({ temperature, ph: filled(temperature, names) })}
              error={error('temperatureC')}
            />
          </div>
          {([0, 1] as const).map((i) => (
            <fieldset class="fields gap" key={i}>
              <legend>{i === 0 ? say`First buffer` : say`Second buffer`}</legend>
              <Choice
                label={say`Buffer`}
                value={names[i]}
                options={[
                  { value: '', words: say`by its pH, typed` },
                  ...(chosen?.buffers ?? []).map((b) => ({ value: b.name, words: b.name })),
                ]}
                onChange={(name) => nameBuffer(i, name)}
              />
              <Field
                label={say`pH at that temperature`}
                type="decimal"
                width="short"
                value={draft.ph[i]}
                onInput={(ph) => set({ ph: pair(draft.ph, i, ph) })}
                error={error(`points.${i}.ph`)}
              />
              <RawField
                label={say`EMF in it`}
                channel={channel}
                value={draft.emf[i]}
                onInput={(emf) => set({ emf: pair(draft.emf, i, emf) })}
                error={error(`points.${i}.emfMv`)}
              />
            </fieldset>
          ))}
        </>
      ) : (
        <div class="fields gap">
          <RawField
            label={say`Raw value, dry`}
            hint={say`in dry air or oven-dry soil`}
            channel={channel}
            value={draft.dry}
            onInput={(dry) => set({ dry })}
            error={error('dryRaw')}
          />
          <RawField
            label={say`Raw value, wet`}
            hint={say`in water or saturated soil`}
            channel={channel}
            value={draft.wet}
            onInput={(wet) => set({ wet })}
            error={error('wetRaw')}
          />
        </div>
      )}
      {calibration !== null &&
        (calibration.points.length > 2 || calibration.soilPoints.length > 0) && (
          <p class="faint">{say`What it has beyond this, a third buffer or soils of known water, stays as it is; to change that, calibrate step by step.`}</p>
        )}
      <div class="fields gap">
        <Field
          label={say`Remark`}
          value={draft.note}
          onInput={(note) => set({ note })}
          error={error('note')}
        />
      </div>
      <div aria-live="polite" data-testid="dry-run">
        {dryRun.check !== null && <CheckWords check={dryRun.check} />}
        <FormProblem problem={dryRun.problem} fields={SHOWN} />
        {dryRun.check === null && dryRun.problem === null && (
          <p class="faint">{say`As soon as all values are there, the hub says here what they amount to.`}</p>
        )}
      </div>
    </Form>
  )
}
