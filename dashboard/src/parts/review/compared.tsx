import type { ComponentChildren } from 'preact'
import type { Comparison } from '../../../../hub/api/schemas/findings.ts'
import { daysWriter, phChangeWriter, withDoubt } from '../../doubt.ts'
import { whole } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { Link } from '../link.tsx'
import { claimedDirection } from './review-words.ts'

/** What each material did over all beds, and a way to put it to the test. */
export function Compared({
  materials,
  children,
}: {
  materials: Comparison
  children: ComponentChildren
}) {
  const { beds, garden } = useHub()
  const { units } = garden
  return (
    <section class="sheet" aria-labelledby="compared">
      <h2 id="compared">{say`What each material did here`}</h2>
      <p class="sentence">{materials.sentence}</p>
      {materials.rows.length > 0 && (
        <table class="stack compared">
          <caption>{say`Peak in pH for one treatment, and the days until half of it is gone, with 95 % intervals`}</caption>
          <thead>
            <tr>
              <th scope="col">{say`Material`}</th>
              <th scope="col" class="n">{say`Treatments`}</th>
              <th scope="col">{say`Peak, pH`}</th>
              <th scope="col">{say`Half of it lasts`}</th>
              <th scope="col">{say`Beds`}</th>
            </tr>
          </thead>
          {materials.rows.map((row) => (
            <tbody key={row.material}>
              <tr class="figures">
                <th scope="row">{said(row.material)}</th>
                <td data-label={say`Treatments`} class="n">
                  {whole(row.treatments, units)}
                </td>
                <td data-label={say`Peak, pH`}>
                  {row.peak === null ? '–' : withDoubt(row.peak, phChangeWriter(units))}
                </td>
                <td data-label={say`Half of it lasts`}>
                  {row.halfLifeDays === null
                    ? say`not known`
                    : withDoubt(row.halfLifeDays, daysWriter(row.halfLifeDays, units))}
                </td>
                <td data-label={say`Beds`}>
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
                <td colSpan={5}>
                  <p class="sentence">{row.sentence}</p>
                  <p class="links">
                    <Link
                      to={{
                        page: 'trials',
                        material: row.material,
                        direction: claimedDirection(row.peak),
                      }}
                    >
                      {say`Put this to the test`}
                      <span class="unseen">: {said(row.material)}</span>
                    </Link>
                  </p>
                </td>
              </tr>
            </tbody>
          ))}
        </table>
      )}
      {children}
    </section>
  )
}
