import type { BedQuality } from '../../../../hub/api/schemas/findings.ts'
import { api } from '../../api.ts'
import { useLoad } from '../../hub-context.tsx'
import { qualitySentence } from '../../quality-words.ts'
import { say } from '../../say.ts'
import { Link } from '../link.tsx'
import { Finding } from './finding.tsx'

type Probe = BedQuality['probes'][number]

/** The tests in which hours of a probe were doubted or failed. */
function Tests({ probe }: { probe: Probe }) {
  const told = probe.tests.filter(({ suspect, fail }) => suspect + fail > 0)
  if (told.length === 0) return null
  return (
    <details class="why">
      <summary>
        {say`Why`}
        <span class="unseen">: {probe.probe}</span>
      </summary>
      <p class="faint">
        {probe.probe}, {probe.spot}
      </p>
      <ul>
        {told.map(({ name, suspect, fail, meaning }) => (
          <li key={name}>
            {name}: {fail > 0 && say`${fail} h failed`}
            {fail > 0 && suspect > 0 && ', '}
            {suspect > 0 && say`${suspect} h doubtful`}
            {meaning === null ? '' : ` (${meaning})`}
          </li>
        ))}
      </ul>
    </details>
  )
}

/** How the hours of each probe fared in the quality tests of the last thirty days. */
export function Quality({ bed }: { bed: number }) {
  const { data, problem } = useLoad(`quality ${bed}`, (signal) => api.quality(bed, signal))
  return (
    <Finding id="quality" title={say`How the readings fared`}>
      {problem !== null && <p class="not-yet">{problem.title}</p>}
      {data === null ? (
        problem === null && <p class="not-yet">{say`Fetching …`}</p>
      ) : (
        <>
          <p class="sentence">{qualitySentence(data.probes)}</p>
          {data.probes.length > 0 && (
            <div class="scroll">
              <table class="stack">
                <caption>{say`Hours of the last 30 days by their gravest flag; the flags are those of the open QARTOD manuals for sea and water stations`}</caption>
                <thead>
                  <tr>
                    <th scope="col">{say`Probe`}</th>
                    <th scope="col">{say`Spot`}</th>
                    <th scope="col" class="n">{say`Passed`}</th>
                    <th scope="col" class="n">{say`Doubtful`}</th>
                    <th scope="col" class="n">{say`Failed`}</th>
                    <th scope="col" class="n">{say`No pH`}</th>
                  </tr>
                </thead>
                <tbody>
                  {data.probes.map((probe) => (
                    <tr key={`${probe.probe} ${probe.spot}`}>
                      <td data-label={say`Probe`}>
                        <Link to={{ page: 'probe', id: probe.probe }} class="id">
                          {probe.probe}
                        </Link>
                      </td>
                      <td data-label={say`Spot`}>{probe.spot}</td>
                      <td data-label={say`Passed`} class="n">
                        {probe.pass + probe.notEvaluated}
                      </td>
                      <td data-label={say`Doubtful`} class="n">
                        {probe.suspect}
                      </td>
                      <td data-label={say`Failed`} class="n">
                        {probe.fail}
                      </td>
                      <td data-label={say`No pH`} class="n">
                        {probe.missing}
                      </td>
                    </tr>
                  ))}
                </tbody>
              </table>
            </div>
          )}
          {data.probes.map((probe) => (
            <Tests key={`${probe.probe} ${probe.spot}`} probe={probe} />
          ))}
        </>
      )}
    </Finding>
  )
}
