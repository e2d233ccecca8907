import { useState } from 'preact/hooks'
import { files } from '../../api.ts'
import { useHub, useNow } from '../../hub-context.tsx'
import { Choice, Choices, Field } from '../field.tsx'
import { dayOf, dayStart } from '../review/period.ts'

const FORMATS = [
  { value: 'wide', words: 'table, one column a channel' },
  { value: 'long', words: 'table, one value a row' },
  { value: 'lines', words: 'line protocol' },
] as const
const STEPS = [
  { value: 'raw', words: 'as sent' },
  { value: 'hour', words: 'by hour' },
] as const

const RECORDS = [
  ['journal', 'Journal'],
  ['beds', 'Beds'],
  ['probes', 'Probes and channels'],
  ['placements', 'Where probes sat'],
  ['calibrations', 'Calibrations'],
  ['soil-tests', 'Soil tests'],
  ['plans', 'Plans'],
  ['alarms', 'Alarms'],
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
      <form aria-label="Take readings out" noValidate onSubmit={(event) => event.preventDefault()}>
        <div class="fields">
          <Choice
            label="Readings of"
            value={probe}
            options={[
              { value: '', words: 'all probes' },
              ...probes.map(({ id, name }) => ({
                value: id,
                words: name === id ? id : `${name} (${id})`,
              })),
            ]}
            onChange={setProbe}
          />
          <Field
            label="First day"
            type="date"
            width="short"
            value={from}
            onInput={setFrom}
            hint="empty: from the first"
          />
          <Field
            label="Last day"
            type="date"
            width="short"
            value={to}
            onInput={setTo}
            hint={`empty: until today, ${dayOf(now, garden.zone)}`}
            error={backwards ? 'the last day lies before the first' : null}
          />
        </div>
        <Choices legend="Values" value={step} options={STEPS} onChange={setStep} />
        <Choices legend="Written as" value={layout} options={FORMATS} onChange={setLayout} />
        <p class="buttons">
          {!backwards && (
            <a
              class="button main"
              download
              href={files.readings({ probe, from: start, to: end, step, layout })}
            >
              Download readings
            </a>
          )}
        </p>
      </form>
      <h3>Records as tables</h3>
      <ul class="record-links">
        {RECORDS.map(([table, words]) => (
          <li key={table}>
            <a href={files.records(table)} download>
              {words} (CSV)
            </a>
          </li>
        ))}
      </ul>
    </>
  )
}
