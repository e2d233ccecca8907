import { SENSED_WORDS } from '../../sensed-words.ts'
import { useHub } from '../../hub-context.tsx'
import { withNames } from '../../import-draft.ts'
import type { ColumnDraft, ImportDraft } from '../../import-draft.ts'
import { said, saidOptions, say, toSay } from '../../say.ts'
import { Choice, Choices, Field } from '../field.tsx'

interface ImportColumnsProps {
  readonly draft: ImportDraft
  readonly columns: readonly string[]
  readonly rows: readonly (readonly string[])[]
  readonly error: (path: string) => string | null
  readonly onChange: (draft: ImportDraft) => void
}

const FORMATS = [
  { value: 'iso', words: toSay('year, month, day: 2026-05-01 06:15') },
  { value: 'day-first', words: toSay('day, month, year: 31.12.2026 23:59') },
  { value: 'month-first', words: toSay('month, day, year: 12/31/2026 11:59 PM') },
  { value: 'seconds', words: toSay('seconds since 1970') },
  { value: 'milliseconds', words: toSay('milliseconds since 1970') },
] as const
const LAYOUTS = [
  { value: 'wide', words: toSay('one column a channel') },
  { value: 'long', words: toSay('one value a row') },
] as const
const DELIMITERS = [
  { value: ',', words: toSay('comma') },
  { value: ';', words: toSay('semicolon') },
  { value: '\t', words: toSay('tab') },
  { value: '|', words: toSay('bar') },
] as const
const DECIMALS = [
  { value: '.', words: toSay('point: 6.5') },
  { value: ',', words: toSay('comma: 6,5') },
] as const
const PRECISIONS = [
  { value: 'ns', words: toSay('nanoseconds') },
  { value: 'us', words: toSay('microseconds') },
  { value: 'ms', words: toSay('milliseconds') },
  { value: 's', words: toSay('seconds') },
] as const
/** Well-known names of the wire format and the units they come in; others are free. */
const CHANNELS = ['phmv', 'ph', 'm1', 'm2', 'm3', 'vwc', 'st', 'at', 'rh', 'bat', 'rssi']
const WELL_KNOWN = /^(phmv|ph|m[1-9]?|vwc|st[1-9]?|at|rh|bat|rssi)(\.s)?$/
const UNITS = ['mV', 'V', 'pH', 'count', '/', '%', '°C', '°F', 'K', '%RH', 'dBm']

/** What each column of a file means. */
export function ImportColumns({ draft, columns, rows, error, onChange }: ImportColumnsProps) {
  const { probes } = useHub()
  const set = (change: Partial<ImportDraft>): void =>
    onChange(withNames({ ...draft, ...change }, columns, rows))
  const setColumn = (column: string, change: Partial<ColumnDraft>): void =>
    onChange({
      ...draft,
      columns: draft.columns.map((one) => (one.column === column ? { ...one, ...change } : one)),
    })
  const columnChoice = (
    label: string,
    path: 'timeColumn' | 'channelColumn' | 'valueColumn' | 'unitColumn' | 'probeColumn',
    none: string,
  ) => (
    <Choice
      label={label}
      value={draft[path]}
      options={[
        { value: '', words: none },
        ...columns.map((column) => ({ value: column, words: column })),
      ]}
      onChange={(value) => set({ [path]: value })}
      error={error(path)}
    />
  )
  const probeId = (
    <Field
      label={say`Probe`}
      value={draft.probeId}
      onInput={(id) => set({ probeId: id })}
      list={probes.map(({ id }) => id)}
      hint={say`the id of one you have, or a new one: 3 to 23 lower-case letters and digits`}
      error={error('probeId') ?? error('map.probe')}
    />
  )
  const names = draft.columns.length > 0 && (
    <table class="stack column-map">
      <caption>
        {draft.layout === 'wide'
          ? say`Which channel each column goes to; leave empty what is not to be taken in.`
          : say`Names in the file; give another one where the channel is called otherwise here.`}
      </caption>
      <thead>
        <tr>
          <th scope="col">{draft.layout === 'wide' ? say`Column` : say`Name in the file`}</th>
          <th scope="col">{say`Channel`}</th>
          <th scope="col">{say`Unit in the file`}</th>
          <th scope="col">{say`It senses`}</th>
        </tr>
      </thead>
      <tbody>
        {draft.columns.map((one) => (
          <tr key={one.column}>
            <th scope="row">{one.column}</th>
            <td data-label={say`Channel`}>
              <Cell
                label={say`Channel of ${one.column}`}
                value={one.channel}
                list={CHANNELS}
                onInput={(channel) => setColumn(one.column, { channel })}
              />
            </td>
            <td data-label={say`Unit in the file`}>
              <Cell
                label={say`Unit of ${one.column}`}
                value={one.unit}
                list={UNITS}
                placeholder={say`the channel’s own`}
                onInput={(unit) => setColumn(one.column, { unit })}
              />
            </td>
            <td data-label={say`It senses`}>
              {one.channel === '' || WELL_KNOWN.test(one.channel) ? (
                <span class="faint">{one.channel === '' ? '' : say`as its name says`}</span>
              ) : (
                <select
                  aria-label={say`What ${one.column} senses`}
                  value={one.senses}
                  onChange={(event) => setColumn(one.column, { senses: event.currentTarget.value })}
                >
                  <option value="">{say`as its name says`}</option>
                  {Object.entries(SENSED_WORDS).map(([value, words]) => (
                    <option key={value} value={value}>
                      {said(words)}
                    </option>
                  ))}
                </select>
              )}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  )
  if (draft.layout === 'senml') {
    return (
      <>
        <div class="fields">
          <Choice
            label={say`The probe`}
            value={draft.probeColumn}
            options={[
              { value: 'name', words: say`stands in each name before the channel` },
              { value: '', words: say`is the same for all` },
            ]}
            onChange={(value) => set({ probeColumn: value })}
          />
          {draft.probeColumn === '' && probeId}
        </div>
        {names}
      </>
    )
  }
  if (draft.layout === 'lines') {
    return (
      <div class="fields">
        <Field
          label={say`Tag with the id of the probe`}
          value={draft.probeColumn}
          onInput={(tag) => set({ probeColumn: tag })}
          hint={say`empty: all lines are of one probe`}
        />
        {draft.probeColumn === '' && probeId}
        <Choice
          label={say`Times are in`}
          value={draft.precision}
          options={saidOptions(PRECISIONS)}
          onChange={(value) => set({ precision: value as ImportDraft['precision'] })}
        />
      </div>
    )
  }
  return (
    <>
      <Choices
        legend={say`The table has`}
        value={draft.layout}
        options={saidOptions(LAYOUTS)}
        onChange={(layout) => set({ layout })}
      />
      <div class="fields">
        {columnChoice(say`Column with the time`, 'timeColumn', say`choose one`)}
        <Choice
          label={say`Times are written as`}
          value={draft.timeFormat}
          options={saidOptions(FORMATS)}
          onChange={(value) => set({ timeFormat: value as ImportDraft['timeFormat'] })}
        />
        <Field
          label={say`Time zone of times without an offset`}
          value={draft.zone}
          onInput={(zone) => set({ zone })}
          list={['UTC', ...Intl.supportedValuesOf('timeZone')]}
          error={error('map.time.zone')}
        />
        {columnChoice(say`Column with the id of the probe`, 'probeColumn', say`none: one probe`)}
        {draft.probeColumn === '' && probeId}
        {draft.layout === 'long' && (
          <>
            {columnChoice(say`Column with the channel`, 'channelColumn', say`choose one`)}
            {columnChoice(say`Column with the value`, 'valueColumn', say`choose one`)}
            {columnChoice(say`Column with the unit`, 'unitColumn', say`none`)}
          </>
        )}
        <Choice
          label={say`Between the columns stands a`}
          value={draft.delimiter}
          options={saidOptions(DELIMITERS)}
          onChange={(value) => set({ delimiter: value as ImportDraft['delimiter'] })}
        />
        <Choice
          label={say`Before the fraction of a number`}
          value={draft.decimal}
          options={saidOptions(DECIMALS)}
          onChange={(value) => set({ decimal: value as ImportDraft['decimal'] })}
        />
      </div>
      {names}
      <p class="error" role="alert" hidden={error('columns') === null}>
        {error('columns')}
      </p>
    </>
  )
}

interface CellProps {
  readonly label: string
  readonly value: string
  readonly list: readonly string[]
  readonly placeholder?: string
  readonly onInput: (value: string) => void
}

/** An input in a table, named by its row. */
function Cell({ label, value, list, placeholder, onInput }: CellProps) {
  const id = `list-${label.replace(/[^\p{L}\p{N}]+/gu, '-')}`
  return (
    <>
      <input
        aria-label={label}
        value={value}
        list={id}
        placeholder={placeholder}
        autocomplete="off"
        onInput={(event) => onInput(event.currentTarget.value)}
      />
      <datalist id={id}>
        {list.map((option) => (
          <option key={option} value={option}>
            {option}
          </option>
        ))}
      </datalist>
    </>
  )
}
