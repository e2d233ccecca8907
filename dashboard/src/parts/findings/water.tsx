import type { Findings } from '../../../../hub/api/schemas/findings.ts'
import { amountWriter, percent, withDoubt } from '../../doubt.ts'
import { amount, dateOnly, dateTime, num, toShown, unitName } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say, toSay } from '../../say.ts'
import { Link } from '../link.tsx'
import { Facts, Finding, Why } from './finding.tsx'

type State = Findings['water']['state']
const STATE_WORDS: Readonly<Record<State, string>> = {
  ample: toSay('ample'),
  moist: toSay('moist, within what the crops can use'),
  dry: toSay('dry: the crops feel it'),
  waterlogged: toSay('waterlogged: more than the soil holds against its own weight'),
  unknown: toSay('not known'),
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
    <Finding id="water" title={say`Water`}>
      <p class="sentence">{water.sentence}</p>
      <Facts
        rows={[
          [
            say`State`,
            water.since === null
              ? said(STATE_WORDS[water.state])
              : say`${said(STATE_WORDS[water.state])}, since ${dateOnly(water.since, garden)}`,
          ],
          [
            say`Missing`,
            missing === null
              ? null
              : water.readilyAvailableMm === null
                ? say`${missing} to field capacity`
                : say`${missing} to field capacity; the crops feel it from ${amount('layer', water.readilyAvailableMm, units)}`,
          ],
          [
            say`To refill`,
            water.refillL === null
              ? null
              : say`${inUnits(water.refillL, 'volume') ?? ''} on the whole bed`,
          ],
          [
            say`Dry in`,
            water.daysUntilDry === null
              ? null
              : withDoubt(water.daysUntilDry, amountWriter(water.daysUntilDry, say`days`, units)),
          ],
          [
            say`Last wetting`,
            water.lastWettingAt === null ? null : dateTime(water.lastWettingAt, garden),
          ],
        ]}
      />
      {water.spots.length > 0 && (
        <div class="scroll">
          <table class="stack">
            <caption>{say`Spot by spot: the share that is left of the water between wilting and field capacity`}</caption>
            <thead>
              <tr>
                <th scope="col">{say`Spot`}</th>
                <th scope="col">{say`Probe`}</th>
                <th scope="col" class="n">{say`Left`}</th>
                <th scope="col" class="n">{say`Field capacity, its own scale`}</th>
                <th scope="col">{say`How that is known`}</th>
              </tr>
            </thead>
            <tbody>
              {water.spots.map((spot) => (
                <tr key={`${spot.spotId} ${spot.probe}`}>
                  <td data-label={say`Spot`}>{spot.spot}</td>
                  <td data-label={say`Probe`}>
                    <Link to={{ page: 'probe', id: spot.probe }} class="id">
                      {spot.probe}
                    </Link>
                  </td>
                  <td data-label={say`Left`} class="n">
                    {percent(spot.available, units)}
                  </td>
                  <td data-label={say`Field capacity, its own scale`} class="n">
                    {num(spot.fieldCapacity, 2, units)}
                  </td>
                  <td data-label={say`How that is known`}>{spot.fieldCapacityFrom}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
      <Why of={say`the water`} grounds={water.grounds} />
    </Finding>
  )
}
