import type { SeasonReportView } from '../../../../hub/api/schemas/review.ts'
import { percent, phChangeWriter, withDoubt } from '../../doubt.ts'
import { num, whole } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { dueWords, monthWords } from './review-words.ts'

/** The newest month with a pH. */
function newest(report: SeasonReportView): SeasonReportView['months'][number] | undefined {
  return report.months.findLast(({ median }) => median !== null)
}

/** All beds over a period, one row each. */
export function GardenTable({ reports }: { reports: readonly SeasonReportView[] }) {
  const { garden } = useHub()
  const { units } = garden
  if (reports.length === 0) return <p class="sentence">There is no bed to report about.</p>
  return (
    <section class="sheet garden-table" aria-labelledby="all-beds">
      <h2 id="all-beds">All beds</h2>
      <table class="stack">
        <caption>
          pH by the median of the newest month that has one; changes and shares with 95 % intervals
        </caption>
        <thead>
          <tr>
            <th scope="col">Bed</th>
            <th scope="col">Band, pH</th>
            <th scope="col">pH</th>
            <th scope="col">Change</th>
            <th scope="col">Days in band</th>
            <th scope="col" class="n">
              Treatments
            </th>
            <th scope="col">Next treatment</th>
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
                  {report.crops.length > 0 && <span class="beside">{report.crops.join(', ')}</span>}
                </th>
                <td data-label="Band, pH" class="nowrap">
                  {report.band === null
                    ? '–'
                    : `${num(report.band.low, 1, units)} to ${num(report.band.high, 1, units)}`}
                </td>
                <td data-label="pH" class="nowrap">
                  {last === undefined ? (
                    'not known'
                  ) : (
                    <>
                      {num(last.median, 2, units)}
                      <span class="beside">{monthWords(last.month, units)}</span>
                    </>
                  )}
                </td>
                <td data-label="Change" class="nowrap">
                  {report.change === null
                    ? 'not known'
                    : withDoubt(report.change, phChangeWriter(units))}
                </td>
                <td data-label="Days in band" class="nowrap">
                  {share === null ? (
                    'not known'
                  ) : (
                    <>
                      {percent(share.value, units)}
                      {share.low !== null && share.high !== null && (
                        <span class="beside">
                          {num(share.low * 100, 0, units)} to {percent(share.high, units)}
                        </span>
                      )}
                    </>
                  )}
                </td>
                <td data-label="Treatments" class="n">
                  {whole(treated.length, units)}
                </td>
                <td data-label="Next treatment">
                  {dueWords(report.review.nextDue, garden) ?? 'see ‘What next’ of the bed'}
                </td>
              </tr>
            )
          })}
        </tbody>
      </table>
    </section>
  )
}
