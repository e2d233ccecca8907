import type { Findings } from '../../../../hub/api/schemas/findings.ts'
import { phChangeWriter, withDoubt } from '../../doubt.ts'
import { yearDayWords } from '../../event-words.ts'
import { dateOnly, num, whole } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { Link } from '../link.tsx'
import { Facts, Finding, NotYet, Why } from './finding.tsx'

/** Each electrode against its neighbours and its calibrations. */
function Electrodes({ electrodes }: Pick<Findings, 'electrodes'>) {
  const { garden } = useHub()
  if (electrodes.length === 0) return null
  const writer = phChangeWriter(garden.units)
  return (
    <>
      <div class="scroll">
        <table class="stack">
          <caption>Electrodes, drift in pH per 30 days with its 95 % interval</caption>
          <thead>
            <tr>
              <th scope="col">Spot</th>
              <th scope="col">Probe</th>
              <th scope="col">Drift</th>
              <th scope="col">Verdict</th>
              <th scope="col" class="n">
                Days since calibration
              </th>
            </tr>
          </thead>
          <tbody>
            {electrodes.map((row) => (
              <tr key={`${row.spot} ${row.probe}`}>
                <td data-label="Spot">{row.spot}</td>
                <td data-label="Probe">
                  <Link to={{ page: 'probe', id: row.probe }} class="id">
                    {row.probe}
                  </Link>
                </td>
                <td data-label="Drift">{withDoubt(row.per30Days, writer)}</td>
                <td data-label="Verdict">{row.verdict}</td>
                <td data-label="Days since calibration" class="n">
                  {num(row.sinceCalibrationDays, 0, garden.units)}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <Why of="the electrodes" grounds={[]}>
        {electrodes.map((row) => (
          <div key={`${row.spot} ${row.probe}`}>
            <p class="sentence">{row.sentence}</p>
            {row.grounds.length > 0 && (
              <ul>
                {row.grounds.map((ground) => (
                  <li key={ground}>{ground}</li>
                ))}
              </ul>
            )}
          </div>
        ))}
      </Why>
    </>
  )
}

/** Where the bed goes once the season is taken off, and what of it is the electrodes' doing. */
export function Drift({ findings }: { findings: Findings }) {
  const { garden } = useHub()
  const { trend, electrodes } = findings
  const { units } = garden
  return (
    <Finding id="drift" title="Slow drift">
      <p class="sentence">{trend.sentence}</p>
      {trend.status === 'ok' ? (
        <Facts
          rows={[
            ['pH a year', `${withDoubt(trend.perYear, phChangeWriter(units))}, ${trend.verdict}`],
            [
              'Season',
              trend.seasonSwing === null
                ? null
                : `swings by ${num(trend.seasonSwing, 2, units)}${
                    trend.seasonHighestDay === null
                      ? ''
                      : `, highest about ${yearDayWords(trend.seasonHighestDay, units)}`
                  }`,
            ],
            [
              'Rests on',
              `${whole(trend.weeks, units)} weeks, ${dateOnly(trend.from, garden)} to ${dateOnly(trend.to, garden)}`,
            ],
          ]}
        />
      ) : (
        <NotYet {...trend} />
      )}
      <Why of="the slow drift" grounds={trend.grounds} />
      <Electrodes electrodes={electrodes} />
      {findings.samples.length > 0 && (
        <>
          <h4>Samples against the probes</h4>
          <ul data-testid="sample-offsets">
            {findings.samples.map(({ method, sentence }) => (
              <li key={method}>{sentence}</li>
            ))}
          </ul>
        </>
      )}
    </Finding>
  )
}
