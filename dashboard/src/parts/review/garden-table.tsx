import type { SeasonReportView } from '../../../../hub/api/schemas/review.ts'
import { percent, phChangeWriter, withDoubt } from '../../doubt.ts'
import { num, whole } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'
import { dueWords, monthWords } from './review-words.ts'

/** The newest month with a pH. */
function newest(report: SeasonReportView): SeasonReportView['months'][number] | undefined {
  return report.months.findLast(({ median }) => median !== null)
}

/** All beds over a period, one row each. */
export function GardenTable({ reports }: { reports: readonly SeasonReportView[] }) {
  const { garden } = useHub()
  const { units } = garden
  if (reports.length === 0) return <p class="sentence">{say`There is no bed to report about.`}</p>
  return (
    <section class="sheet garden-table" aria-labelledby="all-beds">
      <h2 id="all-beds">{say`All beds`}</h2>
      <div class="scroll">
        <table class="stack">
          <caption>{say`pH by the median of the newest month that has one; changes and shares with 95 % intervals`}</caption>
          <thead>
            <tr>
              <th scope="col">{say`Bed`}</th>
              <th scope="col">{say`Band, pH`}</th>
              <th scope="col">{say`pH`}</th>
              <th scope="col">{say`Change, pH`}</th>
              <th scope="col">{say`Days in band`}</th>
              <th scope="col" class="n">{say`Treatments`}</th>
              <th scope="col">{say`Next treatment`}</th>
            </tr>
          </thead>
          <tbody>
            {reports.map((report) => {
              const last = newest(report)
              const { inBandShare: share } = report
              const treated = report.review.treatments.filter(
                ({ at }) => at >= report.from && at < report.to,
              )
              return (
                <tr key={report.bedId}>
                  <th scope="row">
                    <a href={`#report-${report.bedId}`}>{report.bed}</a>
                    {report.crops.length > 0 && (
                      <span class="beside">{report.crops.join(', ')}</span>
                    )}
                  </th>
                  <td data-label={say`Band, pH`} class="nowrap">
                    {report.band === null
                      ? '–'
                      : say`${num(report.band.low, 1, units)} to ${num(report.band.high, 1, units)}`}
                  </td>
                  <td data-label={say`pH`} class="nowrap">
                    {last === undefined ? (
                      say`not known`
                    ) : (
                      <>
                        {num(last.median, 2, units)}
                        <span class="beside">{monthWords(last.month, units)}</span>
                      </>
                    )}
                  </td>
                  <td data-label={say`Change, pH`} class="nowrap">
                    {report.change === null
                      ? say`not known`
                      : withDoubt(report.change, phChangeWriter(units))}
                  </td>
                  <td data-label={say`Days in band`} class="nowrap">
                    {share === null ? (
                      say`not known`
                    ) : (
                      <>
                        {percent(share.value, units)}
                        {share.low !== null && share.high !== null && (
                          <span class="beside">{say`${num(share.low * 100, 0, units)} to ${percent(share.high, units)}`}</span>
                        )}
                      </>
                    )}
                  </td>
                  <td data-label={say`Treatments`} class="n">
                    {whole(treated.length, units)}
                  </td>
                  <td data-label={say`Next treatment`}>
                    {dueWords(report.review.nextDue, garden) ?? say`see ‘What next’ of the bed`}
                  </td>
                </tr>
              )
            })}
          </tbody>
        </table>
      </div>
    </section>
  )
}
