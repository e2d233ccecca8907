import type { ComponentChildren } from 'preact'
import type { SeasonReportView } from '../../../../hub/api/schemas/review.ts'
import { percent, phChangeWriter, withDoubt } from '../../doubt.ts'
import { amount, dateOnly, num } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { Facts } from '../findings/finding.tsx'
import { Months } from './months.tsx'
import { SeasonChart } from './season-chart.tsx'
import { Treatments } from './treatments.tsx'

interface BedReportProps {
  readonly report: SeasonReportView
  /** Garden, period and day, where the bed has a page of its own among others; null beneath its own title. */
  readonly head: string | null
}

/** A bed over a period, as it goes on paper. */
export function BedReport({ report, head }: BedReportProps) {
  const { garden } = useHub()
  const { units } = garden
  const { band, review, inBandShare: share } = report
  const Part = ({ title, children }: { title: string; children: ComponentChildren }) => (
    <section class="report-part">
      {head === null ? <h2>{title}</h2> : <h3>{title}</h3>}
      {children}
    </section>
  )
  return (
    <article
      class={`sheet bed-report${head === null ? '' : ' own-page'}`}
      id={`report-${report.bedId}`}
      aria-label={report.bed}
    >
      {head !== null && (
        <header>
          <h2>{report.bed}</h2>
          <p class="faint">{head}</p>
        </header>
      )}
      <p class="crops">
        {[
          report.crops.length > 0 ? report.crops.join(', ') : say`no crops named`,
          amount('area', report.areaM2, units),
          ...(band === null
            ? []
            : [say`band pH ${num(band.low, 1, units)} to ${num(band.high, 1, units)}`]),
        ].join('; ')}
      </p>
      <p class="sentence lead">{report.sentence}</p>
      <Facts
        rows={[
          [
            say`Change, pH`,
            report.change === null
              ? null
              : say`${withDoubt(report.change, phChangeWriter(units))} pH, first against last month`,
          ],
          [
            say`Days in band`,
            share === null || share.value === null
              ? null
              : share.low === null || share.high === null
                ? percent(share.value, units)
                : say`${percent(share.value, units)} (${num(share.low * 100, 0, units)} to ${num(share.high * 100, 0, units)})`,
          ],
        ]}
      />
      <SeasonChart report={report} />
      <Part title={say`Month by month`}>
        <Months report={report} />
      </Part>
      <Part title={say`What happened`}>
        {report.events.length === 0 ? (
          <p class="faint">{say`No change of level in this period.`}</p>
        ) : (
          <ul class="dated">
            {report.events.map((event) => (
              <li key={`${event.at} ${event.sentence}`}>
                <time dateTime={new Date(event.at).toISOString()}>
                  {dateOnly(event.at, garden)}
                </time>{' '}
                <span class="sentence">{event.sentence}</span>
              </li>
            ))}
          </ul>
        )}
      </Part>
      <Part title={say`Samples`}>
        {report.samples.length === 0 ? (
          <p class="faint">{say`No sample by hand or from a laboratory in this period.`}</p>
        ) : (
          <table class="narrow">
            <caption>{say`pH measured by hand or in a laboratory`}</caption>
            <thead>
              <tr>
                <th scope="col">{say`Day`}</th>
                <th scope="col">{say`How`}</th>
                <th scope="col" class="n">{say`pH`}</th>
              </tr>
            </thead>
            <tbody>
              {report.samples.map((sample) => (
                <tr key={`${sample.at} ${sample.ph}`}>
                  <td>{dateOnly(sample.at, garden)}</td>
                  <td>{said(sample.method)}</td>
                  <td class="n">{num(sample.ph, 2, units)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        )}
      </Part>
      <Part title={say`Treatments looked back on`}>
        <p class="sentence">{review.sentence}</p>
        <Treatments treatments={review.treatments} bed={report.bed} />
      </Part>
      <Part title={say`What next`}>
        <p class="sentence">{review.nextSentence}</p>
        <p class="faint">{say`Before anything is put on, the product label and your local extension service come first.`}</p>
      </Part>
    </article>
  )
}
