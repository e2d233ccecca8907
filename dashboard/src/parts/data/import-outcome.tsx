import type { ImportReportView } from '../../../../hub/api/schemas/transfer.ts'
import { dateTime, unitWords, upTo, whole } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'

/** A moment to the second: readings of one minute must be told apart. */
function second(at: number, where: Parameters<typeof dateTime>[1]): string {
  const s = Math.floor(at / 1000) % 60
  return s === 0 ? dateTime(at, where) : `${dateTime(at, where)} (${s} s)`
}

/** The first rows as they would be stored. */
export function ImportPreview({ report }: { report: ImportReportView }) {
  const { garden } = useHub()
  const unitOf = (probe: string, channel: string): string => {
    const of = report.probes.find(({ id }) => id === probe)
    const name = channel.replace(/\.s$/, '')
    return unitWords(of?.channels.find((c) => c.name === name)?.unit ?? '')
  }
  if (report.preview.length === 0) return null
  return (
    <table class="stack" data-testid="import-preview">
      <caption>The first rows as they would be stored, times on the garden’s clock</caption>
      <thead>
        <tr>
          <th scope="col">Line</th>
          <th scope="col">Time</th>
          <th scope="col">Probe</th>
          <th scope="col">Values</th>
        </tr>
      </thead>
      <tbody>
        {report.preview.map((row) => (
          <tr key={`${row.line}`}>
            <td data-label="Line">{row.line}</td>
            <td data-label="Time">{second(row.at, garden)}</td>
            <td data-label="Probe">
              <span class="id">{row.probe}</span>
            </td>
            <td data-label="Values">
              {row.values
                .map(({ channel, value }) =>
                  value === null
                    ? `${channel} failed`
                    : `${channel} ${upTo(value, 4, garden.units)} ${unitOf(row.probe, channel)}`.trim(),
                )
                .join(', ')}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  )
}

/** Rows that cannot be used, with what was expected and what came. */
export function BadRows({ report }: { report: ImportReportView }) {
  const { garden } = useHub()
  if (report.badCount === 0) return null
  return (
    <div class="bad-rows" role="alert" data-testid="bad-rows">
      <p class="error">
        {report.badCount === 1
          ? 'One row cannot be used'
          : `${whole(report.badCount, garden.units)} rows cannot be used`}
        . Nothing of a file is stored while one is bad.
      </p>
      <ul class="spot-list">
        {report.bad.map((row) => (
          <li key={`${row.line} ${row.column ?? ''} ${row.got}`}>
            line {row.line}
            {row.column !== null && <> · {row.column}</>}: expected {row.expected}; got{' '}
            <span class="id">{row.got === '' ? 'nothing' : row.got}</span>
          </li>
        ))}
      </ul>
      {report.badCount > report.bad.length && (
        <p class="faint">… and {whole(report.badCount - report.bad.length, garden.units)} more</p>
      )}
    </div>
  )
}

/** What a whole file holds, probe by probe. */
export function ImportSummary({ report }: { report: ImportReportView }) {
  const { garden } = useHub()
  const n = (x: number): string => whole(x, garden.units)
  return (
    <>
      <p class="sentence" data-testid="import-summary">
        {n(report.rows)} rows, {n(report.readings)} readings
        {report.present > 0 && <>, {n(report.present)} of them stored already</>}
        {report.empty > 0 && <>, {n(report.empty)} rows without a value</>}.
      </p>
      <ul class="spot-list">
        {report.probes.map((probe) => (
          <li key={probe.id}>
            <span class="id">{probe.id}</span>
            {probe.isNew ? ', a new probe' : ''}: {n(probe.readings)} readings from{' '}
            {dateTime(probe.from, garden)} to {dateTime(probe.to, garden)};{' '}
            {probe.channels
              .map(({ name, unit }) => {
                const words = unitWords(unit)
                return words === '' ? name : `${name} in ${words}`
              })
              .join(', ')}
          </li>
        ))}
      </ul>
    </>
  )
}
