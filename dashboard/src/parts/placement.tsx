import { useState } from 'preact/hooks'
import type { ProbeView as Probe } from '../../../hub/api/schemas/probe.ts'
import { api } from '../api.ts'
import { dateTime } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import { errorFor } from '../problem.ts'
import { say, toSay } from '../say.ts'
import { saying } from '../saying.ts'
import { fromInputTime, toInputTime } from '../input-time.ts'
import { Choice, Field, FormProblem, useSend } from './field.tsx'
import { Form } from './form.tsx'
import { Link } from './link.tsx'

/** Where a probe sits, where it sat, and moving it. */
export function Placement({ probe, onChange }: { probe: Probe; onChange: () => void }) {
  const { garden, beds, aheadMs } = useHub()
  const [spot, setSpot] = useState(probe.spotId === null ? '' : String(probe.spotId))
  const [from, setFrom] = useState(() =>
    // A probe that was never placed: its first reading counts too.
    toInputTime(
      probe.placements.length === 0 ? probe.firstSeenAt : Date.now() + aheadMs,
      garden.zone,
    ),
  )
  const { problem, busy, send, refuse } = useSend()
  const spots = beds.flatMap((bed) =>
    bed.spots.map((s) => ({ value: String(s.spotId), words: `${bed.name}: ${s.spot}` })),
  )
  const save = (): void => {
    const at = fromInputTime(from, garden.zone)
    if (at === null) return refuse([{ path: 'from', message: say`give a day and a time` }])
    send(async () => {
      await api.placeProbe(probe.id, { spotId: spot === '' ? null : Number(spot), from: at })
      onChange()
    })
  }
  const where = probe.bedId !== null && probe.bed !== null
  return (
    <section class="sheet" aria-labelledby="placement">
      <h2 id="placement">{say`Where it sits`}</h2>
      <p class="sentence">
        {where && probe.bedId !== null
          ? saying(
              toSay('In {0}, {1}.'),
              <Link to={{ page: 'bed', id: probe.bedId }}>{probe.bed}</Link>,
              probe.spot,
            )
          : say`In no spot: its readings are kept, but belong to no bed.`}
      </p>
      {spots.length === 0 ? (
        <p class="sentence">
          {say`There is no spot to put it in yet.`}{' '}
          <Link to={{ page: 'garden' }}>{say`Add a spot to a bed first.`}</Link>
        </p>
      ) : (
        <Form label={say`Move the probe`} onSubmit={save} busy={busy} submit={say`Save place`}>
          <FormProblem problem={problem} fields={['spotId', 'from']} />
          <div class="fields">
            <Choice
              label={say`Spot`}
              value={spot}
              options={[{ value: '', words: say`in no spot` }, ...spots]}
              onChange={setSpot}
              error={errorFor(problem, 'spotId')}
            />
            <Field
              label={say`Since`}
              type="datetime-local"
              value={from}
              onInput={setFrom}
              hint={say`on the garden's clock, ${garden.zone}`}
              error={errorFor(problem, 'from')}
            />
          </div>
        </Form>
      )}
      {probe.placements.length > 0 && (
        <>
          <h3>{say`Places so far`}</h3>
          <table class="stack">
            <thead>
              <tr>
                <th scope="col">{say`Spot`}</th>
                <th scope="col">{say`From`}</th>
                <th scope="col">{say`Until`}</th>
              </tr>
            </thead>
            <tbody>
              {probe.placements.map((placement) => (
                <tr key={placement.id}>
                  <td>
                    {placement.bed}: {placement.spot}
                  </td>
                  <td data-label={say`From`}>{dateTime(placement.from, garden)}</td>
                  <td data-label={say`Until`}>
                    {placement.to === null ? say`still there` : dateTime(placement.to, garden)}
                  </td>
                </tr>
              ))}
            </tbody>
          </table>
        </>
      )}
    </section>
  )
}
