import type { ImportReportView } from '../../../../hub/api/schemas/transfer.ts'
import { dateTime, upTo, whole } from '../../format.ts'
import { unitWords } from '../../sensed-words.ts'
import { useHub } from '../../hub-context.tsx'
import { say, toSay } from '../../say.ts'
import { saying } from '../../saying.ts'

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
      <caption>{say`The first rows as they would be stored, times on the garden’s clock`}</caption>
      <thead>
        <tr>
          <th scope="col">{say`Line`}</th>
          <th scope="col">{say`Time`}</th>
          <th scope="col">{say`Probe`}</th>
          <th scope="col">{say`Values`}</th>
        </tr>
      </thead>
      <tbody>
        {report.preview.map((row) => (
          <tr key={`${row.line}`}>
            <td data-label={say`Line`}>{row.line}</td>
            <td data-label={say`Time`}>{second(row.at, garden)}</td>
            <td data-label={say`Probe`}>
              <span class="id">{row.probe}</span>
            </td>
            <td data-label={say`Values`}>
              {row.values
                .map(({ channel, value }) =>
                  value === null
                    ? say`${channel} failed`
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
          ? say`One row cannot be used. Nothing of a file is stored while one is bad.`
          : say`${whole(report.badCount, garden.units)} rows cannot be used. Nothing of a file is stored while one is bad.`}
      </p>
      <ul class="spot-list">
        {report.bad.map((row) => (
          <li key={`${row.line} ${row.column ?? ''} ${row.got}`}>
            {saying(
              toSay('{0}: expected {1}; got {2}'),
              row.column === null ? say`line ${row.line}` : say`line ${row.line} · ${row.column}`,
              row.expected,
              <span class="id">{row.got === '' ? say`nothing` : row.got}</span>,
            )}
          </li>
        ))}
      </ul>
      {report.badCount > report.bad.length && (
        <p class="faint">{say`… and ${whole(report.badCount - report.bad.length, garden.units)} more`}</p>
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
        {[
          say`${n(report.rows)} rows, ${n(report.readings)} readings`,
          ...(report.present > 0 ? [say`${n(report.present)} of them stored already`] : []),
          ...(report.empty > 0 ? [say`${n(report.empty)} rows without a value`] : []),
        ].join(', ')}
        .
      </p>
      <ul class="spot-list">
        {report.probes.map((probe) => (
          <li key={probe.id}>
            {saying(
              probe.isNew
                ? toSay('{0}, a new probe: {1} readings from {2} to {3}; {4}')
                : toSay('{0}: {1} readings from {2} to {3}; {4}'),
              <span class="id">{probe.id}</span>,
              n(probe.readings),
              dateTime(probe.from, garden),
              dateTime(probe.to, garden),
              probe.channels
                .map(({ name, unit }) => {
                  const words = unitWords(unit)
                  return words === '' ? name : say`${name} in ${words}`
                })
                .join(', '),
            )}
          </li>
        ))}
      </ul>
    </>
  )
}
