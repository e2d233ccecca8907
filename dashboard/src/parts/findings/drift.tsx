import type { Findings } from '../../../../hub/api/schemas/findings.ts'
import { phChangeWriter, withDoubt } from '../../doubt.ts'
import { yearDayWords } from '../../change-words.ts'
import { dateOnly, num, whole } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say, toSay } from '../../say.ts'
import { Link } from '../link.tsx'
import { Facts, Finding, NotYet, Why } from './finding.tsx'

const TREND_WORDS: Readonly<
  Record<Extract<Findings['trend'], { status: 'ok' }>['verdict'], string>
> = {
  rising: toSay('rising'),
  falling: toSay('falling'),
  steady: toSay('steady'),
  'cannot tell': toSay('cannot tell'),
}
const ELECTRODE_WORDS: Readonly<Record<Findings['electrodes'][number]['verdict'], string>> = {
  'electrode drifts': toSay('electrode drifts'),
  'soil drifts': toSay('soil drifts'),
  both: toSay('both'),
  steady: toSay('steady'),
  'cannot tell': toSay('cannot tell'),
}

/** Each electrode against its neighbours and its calibrations. */
function Electrodes({ electrodes }: Pick<Findings, 'electrodes'>) {
  const { garden } = useHub()
  if (electrodes.length === 0) return null
  const writer = phChangeWriter(garden.units)
  return (
    <>
      <div class="scroll">
        <table class="stack">
          <caption>{say`Electrodes, drift in pH per 30 days with its 95 % interval`}</caption>
          <thead>
            <tr>
              <th scope="col">{say`Spot`}</th>
              <th scope="col">{say`Probe`}</th>
              <th scope="col">{say`Drift`}</th>
              <th scope="col">{say`Verdict`}</th>
              <th scope="col" class="n">{say`Days since calibration`}</th>
            </tr>
          </thead>
          <tbody>
            {electrodes.map((row) => (
              <tr key={`${row.spot} ${row.probe}`}>
                <td data-label={say`Spot`}>{row.spot}</td>
                <td data-label={say`Probe`}>
                  <Link to={{ page: 'probe', id: row.probe }} class="id">
                    {row.probe}
                  </Link>
                </td>
                <td data-label={say`Drift`}>{withDoubt(row.per30Days, writer)}</td>
                <td data-label={say`Verdict`}>{said(ELECTRODE_WORDS[row.verdict])}</td>
                <td data-label={say`Days since calibration`} class="n">
                  {num(row.sinceCalibrationDays, 0, garden.units)}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <Why of={say`the electrodes`} grounds={[]}>
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
    <Finding id="drift" title={say`Slow drift`}>
      <p class="sentence">{trend.sentence}</p>
      {trend.status === 'ok' ? (
        <Facts
          rows={[
            [
              say`pH a year`,
              `${withDoubt(trend.perYear, phChangeWriter(units))}, ${said(TREND_WORDS[trend.verdict])}`,
            ],
            [
              say`Season`,
              trend.seasonSwing === null
                ? null
                : trend.seasonHighestDay === null
                  ? say`swings by ${num(trend.seasonSwing, 2, units)}`
                  : say`swings by ${num(trend.seasonSwing, 2, units)}, highest about ${yearDayWords(trend.seasonHighestDay, units)}`,
            ],
            [
              say`Rests on`,
              say`${whole(trend.weeks, units)} weeks, ${dateOnly(trend.from, garden)} to ${dateOnly(trend.to, garden)}`,
            ],
          ]}
        />
      ) : (
        <NotYet {...trend} />
      )}
      <Why of={say`the slow drift`} grounds={trend.grounds} />
      <Electrodes electrodes={electrodes} />
      {findings.samples.length > 0 && (
        <>
          <h4>{say`Samples against the probes`}</h4>
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
