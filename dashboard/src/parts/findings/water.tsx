import type { Findings } from '../../../../hub/api/schemas/findings.ts'
import { amountWriter, percent, withDoubt } from '../../doubt.ts'
import { amount, dateOnly, dateTime, num, toShown, unitName } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { Link } from '../link.tsx'
import { Facts, Finding, Why } from './finding.tsx'

type State = Findings['water']['state']
const STATE_WORDS: Readonly<Record<State, string>> = {
  ample: 'ample',
  moist: 'moist, within what the crops can use',
  dry: 'dry: the crops feel it',
  waterlogged: 'waterlogged: more than the soil holds against its own weight',
  unknown: 'not known',
}

/** Water in the bed against what its crops can take from it. */
export function Water({ findings }: { findings: Findings }) {
  const { garden } = useHub()
  const { water } = findings
  const { units } = garden
  const inUnits = (x: Findings['water']['refillL'], kind: 'layer' | 'volume'): string | null =>
    x === null
      ? null
      : withDoubt(x, amountWriter(x, unitName(kind, units), units, toShown(kind, 1, units)))
  const missing = inUnits(water.depletionMm, 'layer')
  return (
    <Finding id="water" title="Water">
      <p class="sentence">{water.sentence}</p>
      <Facts
        rows={[
          [
            'State',
            `${STATE_WORDS[water.state]}${water.since === null ? '' : `, since ${dateOnly(water.since, garden)}`}`,
          ],
          [
            'Missing',
            missing === null
              ? null
              : `${missing} to field capacity${
                  water.readilyAvailableMm === null
                    ? ''
                    : `; the crops feel it from ${amount('layer', water.readilyAvailableMm, units)}`
                }`,
          ],
          [
            'To refill',
            water.refillL === null
              ? null
              : `${inUnits(water.refillL, 'volume') ?? ''} on the whole bed`,
          ],
          [
            'Dry in',
            water.daysUntilDry === null
              ? null
              : withDoubt(water.daysUntilDry, amountWriter(water.daysUntilDry, 'days', units)),
          ],
          [
            'Last wetting',
            water.lastWettingAt === null ? null : dateTime(water.lastWettingAt, garden),
          ],
        ]}
      />
      {water.spots.length > 0 && (
        <div class="scroll">
          <table class="stack">
            <caption>
              Spot by spot: the share that is left of the water between wilting and field capacity
            </caption>
            <thead>
              <tr>
                <th scope="col">Spot</th>
                <th scope="col">Probe</th>
                <th scope="col" class="n">
                  Left
                </th>
                <th scope="col" class="n">
                  Field capacity, its own scale
                </th>
                <th scope="col">How that is known</th>
              </tr>
            </thead>
            <tbody>
              {water.spots.map((spot) => (
                <tr key={`${spot.spotId} ${spot.probe}`}>
                  <td data-label="Spot">{spot.spot}</td>
                  <td data-label="Probe">
                    <Link to={{ page: 'probe', id: spot.probe }} class="id">
                      {spot.probe}
                    </Link>
                  </td>
                  <td data-label="Left" class="n">
                    {percent(spot.available, units)}
                  </td>
                  <td data-label="Field capacity, its own scale" class="n">
                    {num(spot.fieldCapacity, 2, units)}
                  </td>
                  <td data-label="How that is known">{spot.fieldCapacityFrom}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
      <Why of="the water" grounds={water.grounds} />
    </Finding>
  )
}
