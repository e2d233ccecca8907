import { useState } from 'preact/hooks'
import { files } from '../../api.ts'
import { dateOnly } from '../../format.ts'
import { useHub, useNow } from '../../hub-context.tsx'
import { said, saidOptions, say, toSay } from '../../say.ts'
import { Choice, Choices, Field } from '../field.tsx'
import { dayStart } from '../review/period.ts'

const FORMATS = [
  { value: 'wide', words: toSay('table, one column a channel') },
  { value: 'long', words: toSay('table, one value a row') },
  { value: 'lines', words: toSay('line protocol') },
] as const
const STEPS = [
  { value: 'raw', words: toSay('as sent') },
  { value: 'hour', words: toSay('by hour') },
] as const

const RECORDS = [
  ['journal', toSay('Journal')],
  ['beds', toSay('Beds')],
  ['probes', toSay('Probes and channels')],
  ['placements', toSay('Where probes sat')],
  ['calibrations', toSay('Calibrations')],
  ['soil-tests', toSay('Soil tests')],
  ['plans', toSay('Plans')],
  ['alarms', toSay('Alarms')],
] as const

/** Readings and records as files of open formats. */
export function ExportForm() {
  const { garden, probes } = useHub()
  const now = useNow()
  const [probe, setProbe] = useState('')
  const [from, setFrom] = useState('')
  const [to, setTo] = useState('')
  const [layout, setLayout] = useState<(typeof FORMATS)[number]['value']>('wide')
  const [step, setStep] = useState<(typeof STEPS)[number]['value']>('raw')
  const start = from === '' ? undefined : (dayStart(from, garden.zone) ?? undefined)
  const end = to === '' ? undefined : (dayStart(to, garden.zone, 1) ?? undefined)
  const backwards = start !== undefined && end !== undefined && end <= start
  return (
    <>
      <form
        aria-label={say`Take readings out`}
        noValidate
        onSubmit={(event) => event.preventDefault()}
      >
        <div class="fields">
          <Choice
            label={say`Readings of`}
            value={probe}
            options={[
              { value: '', words: say`all probes` },
              ...probes.map(({ id, name }) => ({
                value: id,
                words: name === id ? id : `${name} (${id})`,
              })),
            ]}
            onChange={setProbe}
          />
          <Field
            label={say`First day`}
            type="date"
            width="short"
            value={from}
            onInput={setFrom}
            hint={say`empty: from the first`}
          />
          <Field
            label={say`Last day`}
            type="date"
            width="short"
            value={to}
            onInput={setTo}
            hint={say`empty: until today, ${dateOnly(now, garden)}`}
            error={backwards ? say`the last day lies before the first` : null}
          />
        </div>
        <Choices
          legend={say`Values`}
          value={step}
          options={saidOptions(STEPS)}
          onChange={setStep}
        />
        <Choices
          legend={say`Written as`}
          value={layout}
          options={saidOptions(FORMATS)}
          onChange={setLayout}
        />
        <p class="buttons">
          {!backwards && (
            <a
              class="button main"
              download
              href={files.readings({ probe, from: start, to: end, step, layout })}
            >{say`Download readings`}</a>
          )}
        </p>
      </form>
      <h3>{say`Records as tables`}</h3>
      <ul class="record-links">
        {RECORDS.map(([table, words]) => (
          <li key={table}>
            <a href={files.records(table)} download>{`${said(words)} (CSV)`}</a>
          </li>
        ))}
      </ul>
    </>
  )
}
