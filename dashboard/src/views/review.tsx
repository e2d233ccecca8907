import { api, files } from '../api.ts'
import { dateTime } from '../format.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { TreatmentCaution } from '../parts/caution.tsx'
import '../parts/findings/findings.css'
import { Link } from '../parts/link.tsx'
import { BedReviewed } from '../parts/review/bed-reviewed.tsx'
import { Calendar } from '../parts/review/calendar.tsx'
import { Compared } from '../parts/review/compared.tsx'
import { Prices } from '../parts/review/prices.tsx'
import '../parts/review/review.css'
import { RunningPlans } from '../parts/review/running-plans.tsx'
import { triedIn } from '../parts/review/tried.tsx'
import { say } from '../say.ts'

/** The garden looked back on: plans that run, what every treatment did, what comes next. */
export function ReviewView() {
  const { loaded, garden, connection, journalTicks } = useHub()
  const now = useNow()
  const tick = `${connection} ${JSON.stringify(journalTicks)}`
  const review = useLoad(loaded ? 'review' : null, api.review, tick)
  const trials = useLoad(loaded ? 'trials' : null, api.trials, connection)
  const settings = useLoad(loaded ? 'settings' : null, api.planningSettings)
  const { data, problem } = review
  return (
    <>
      <div class="page-head">
        <h1>{say`Review`}</h1>
        <p class="links">
          <Link to={{ page: 'report' }}>{say`Report of the garden`}</Link>
          <a href={files.review} download>{say`Treatments as a table (CSV)`}</a>
        </p>
      </div>
      {problem !== null && (
        <p class="error" role="alert">
          {say`The review could not be fetched: ${problem.detail ?? problem.title}.`}{' '}
          <button type="button" onClick={review.reload}>{say`Fetch again`}</button>
        </p>
      )}
      {data === null && problem === null && <p class="quiet-line">{say`Fetching the review …`}</p>}
      {data !== null && (
        <>
          <section class="sheet" aria-labelledby="running">
            <h2 id="running">{say`Plans that run`}</h2>
            <RunningPlans plans={data.plans} />
            {data.plans.length > 0 && <TreatmentCaution />}
          </section>
          <section class="sheet reviewed" aria-labelledby="reviewed">
            <div class="section-head">
              <h2 id="reviewed">{say`Bed by bed`}</h2>
              <p class="faint">{say`as of ${dateTime(data.at, garden)}`}</p>
            </div>
            {data.beds.length === 0 && (
              <p class="sentence">
                {say`There is no bed yet.`}{' '}
                <Link data-needs="change" to={{ page: 'new-bed' }}>{say`Make the first`}</Link>
              </p>
            )}
            {data.beds.map((bed) => (
              <BedReviewed
                key={bed.bedId}
                review={bed}
                trials={triedIn(trials.data ?? [], bed.bedId, now)}
              />
            ))}
          </section>
          <Compared materials={data.materials}>
            {data.plans.length === 0 && <TreatmentCaution />}
          </Compared>
        </>
      )}
      <section class="sheet" aria-labelledby="prices">
        <h2 id="prices">{say`Prices`}</h2>
        <p class="sentence">{say`With what you pay, the review says what one pH over one month has cost. Leave empty what you do not buy.`}</p>
        {settings.problem !== null && (
          <p class="error" role="alert">
            {say`The prices could not be fetched: ${settings.problem.detail ?? settings.problem.title}.`}{' '}
            <button type="button" onClick={settings.reload}>{say`Fetch again`}</button>
          </p>
        )}
        {settings.data !== null && <Prices settings={settings.data} onSaved={review.reload} />}
      </section>
      <Calendar />
    </>
  )
}
