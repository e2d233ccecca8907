import { api } from '../api.ts'
import { daysWriter, phChangeWriter, withDoubt } from '../doubt.ts'
import { whole } from '../format.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import { TreatmentCaution } from '../parts/caution.tsx'
import '../parts/findings/findings.css'
import { Link } from '../parts/link.tsx'

/** What treatments of each material did, over all beds. */
export function AmendmentsView() {
  const { loaded, beds, garden, connection } = useHub()
  const { units } = garden
  const effects = useLoad(loaded ? 'effects' : null, api.effects, connection)
  const { data, problem } = effects
  return (
    <>
      <div class="page-head">
        <h1>Amendments</h1>
      </div>
      {problem !== null && (
        <p class="error" role="alert">
          The comparison could not be fetched: {problem.detail ?? problem.title}.{' '}
          <button type="button" onClick={effects.reload}>
            Fetch again
          </button>
        </p>
      )}
      {data === null && problem === null && <p class="quiet-line">Fetching the comparison …</p>}
      {data !== null && (
        <section class="sheet" aria-labelledby="compared">
          <h2 id="compared">What each material did here</h2>
          <p class="sentence">{data.sentence}</p>
          {data.rows.length > 0 && (
            <table class="stack compared">
              <caption>
                Peak in pH for one treatment, and the days until half of it is gone, with 95 %
                intervals
              </caption>
              <thead>
                <tr>
                  <th scope="col">Material</th>
                  <th scope="col" class="n">
                    Treatments
                  </th>
                  <th scope="col">Peak, pH</th>
                  <th scope="col">Half of it lasts</th>
                  <th scope="col">Beds</th>
                </tr>
              </thead>
              {data.rows.map((row) => (
                <tbody key={row.material}>
                  <tr class="figures">
                    <th scope="row" data-label="Material">
                      {row.material}
                    </th>
                    <td data-label="Treatments" class="n">
                      {whole(row.treatments, units)}
                    </td>
                    <td data-label="Peak, pH">{withDoubt(row.peak, phChangeWriter(units))}</td>
                    <td data-label="Half of it lasts">
                      {row.halfLifeDays === null
                        ? 'not known'
                        : withDoubt(row.halfLifeDays, daysWriter(row.halfLifeDays, units))}
                    </td>
                    <td data-label="Beds">
                      {row.beds.map((name, i) => {
                        const bed = beds.find((b) => b.name === name)
                        return (
                          <span key={name}>
                            {i > 0 && ', '}
                            {bed === undefined ? (
                              name
                            ) : (
                              <Link to={{ page: 'bed', id: bed.id }}>{name}</Link>
                            )}
                          </span>
                        )
                      })}
                    </td>
                  </tr>
                  <tr class="said">
                    <td colSpan={5} class="sentence">
                      {row.sentence}
                    </td>
                  </tr>
                </tbody>
              ))}
            </table>
          )}
          <TreatmentCaution />
        </section>
      )}
    </>
  )
}
