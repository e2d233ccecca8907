import { useState } from 'preact/hooks'
import { api, files } from '../api.ts'
import { dateTime } from '../format.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import '../parts/findings/findings.css'
import { Link } from '../parts/link.tsx'
import { BedReport } from '../parts/review/bed-report.tsx'
import { GardenTable } from '../parts/review/garden-table.tsx'
import { PeriodForm } from '../parts/review/period-form.tsx'
import { periodOf } from '../parts/review/period.ts'
import '../parts/review/review.css'
import { periodWords } from '../parts/review/review-words.ts'
import { routeTitle } from '../router.ts'
import { say } from '../say.ts'

interface ReportProps {
  /** Left out: all beds. */
  readonly bed?: number | undefined
  /** Days 'YYYY-MM-DD', both inside. */
  readonly from?: string | undefined
  readonly to?: string | undefined
}

const MINUTE = 60_000

/** A season on paper: one bed, or all of them with a table before. */
export function ReportView({ bed, from, to }: ReportProps) {
  const { loaded, beds, garden } = useHub()
  const now = useNow(MINUTE)
  const { period, errors } = periodOf({ from, to }, now, garden.zone)
  const [madeAt, setMadeAt] = useState(now)
  const reports = useLoad(
    loaded && period !== null ? `${bed} ${period.from} ${period.to}` : null,
    async (signal) => {
      const asked = { from: period?.from ?? 0, to: period?.to ?? 0 }
      const all =
        bed === undefined
          ? await api.gardenReport(asked, signal)
          : [await api.bedReport(bed, asked, signal)]
      setMadeAt(now)
      return all
    },
  )
  const { data, problem } = reports
  if (!loaded) return <p class="quiet-line">{say`Fetching the garden …`}</p>
  const name =
    data !== null && bed !== undefined ? data[0]?.bed : beds.find(({ id }) => id === bed)?.name
  const title = routeTitle({ page: 'report', ...(bed === undefined ? {} : { bed }) }, name)
  const head =
    period === null
      ? null
      : say`${garden.name} · ${periodWords(period, garden)} · made ${dateTime(madeAt, garden)}`
  return (
    <div class="report">
      <div class="page-head">
        <div>
          <h1>{title}</h1>
          <p class="faint">{head}</p>
        </div>
        <p class="links">
          {bed === undefined ? (
            <Link to={{ page: 'review' }}>{say`Review`}</Link>
          ) : (
            <>
              <Link to={{ page: 'bed', id: bed }}>{say`The bed`}</Link>
              <Link to={{ page: 'review' }}>{say`Review`}</Link>
              <Link
                to={{ page: 'report', ...(from && { from }), ...(to && { to }) }}
              >{say`All beds`}</Link>
            </>
          )}
        </p>
      </div>
      <PeriodForm
        key={`${period?.days.from} ${period?.days.to}`}
        bed={bed}
        days={period?.days ?? { from: from ?? '', to: to ?? '' }}
        errors={errors}
        now={now}
      />
      {period !== null && (
        <p class="buttons report-tools">
          <button type="button" class="main" onClick={() => window.print()}>{say`Print`}</button>
          <a class="button" href={files.report(bed, period)} download>{say`Table (CSV)`}</a>
        </p>
      )}
      {problem !== null && (
        <p class="error" role="alert">
          {say`The report could not be fetched: ${problem.detail ?? problem.title}.`}{' '}
          <button type="button" onClick={reports.reload}>{say`Fetch again`}</button>
        </p>
      )}
      {data === null && problem === null && period !== null && (
        <p class="quiet-line">{say`Fetching the report …`}</p>
      )}
      {data !== null && bed === undefined && <GardenTable reports={data} />}
      {data?.map((report) => (
        <BedReport key={report.bedId} report={report} head={bed === undefined ? head : null} />
      ))}
    </div>
  )
}
