import { useState } from 'preact/hooks'
import type { BedView, SpotView } from '../../../hub/api/schemas/bed.ts'
import { api } from '../api.ts'
import { age, num } from '../format.ts'
import { useHub, useNow } from '../hub-context.tsx'
import { errorFor } from '../problem.ts'
import { shownAs, withUnit } from '../quantity.ts'
import { say } from '../say.ts'
import { Field, FormProblem, useSend } from './field.tsx'
import { Confirm, Form } from './form.tsx'
import { Link } from './link.tsx'

function SpotRow({ spot }: { spot: SpotView }) {
  const { garden, refresh } = useHub()
  const now = useNow()
  const [name, setName] = useState<string | null>(null)
  const { problem, busy, send } = useSend()
  const { units } = garden
  const moisture = shownAs('moisture', units)
  const warmth = shownAs('temperature', units)
  const read = (stored: number | null): number | null =>
    stored === null ? null : moisture.shown(stored)
  return (
    <li>
      <div class="section-head">
        <span>
          <strong>{spot.spot}</strong>{' '}
          {spot.probe === null ? (
            <span class="faint">{say`no probe here`}</span>
          ) : (
            <Link to={{ page: 'probe', id: spot.probe }} class="id">
              {spot.probe}
            </Link>
          )}
        </span>
        <span>
          <button
            data-needs="change"
            type="button"
            class="quiet"
            aria-label={say`Rename ${spot.spot}`}
            onClick={() => setName(spot.spot)}
          >
            {say`Rename`}
          </button>
          <Confirm
            words={say`Remove`}
            ask={say`Remove ${spot.spot}?`}
            onYes={() =>
              send(async () => {
                await api.removeSpot(spot.spotId)
                await refresh('beds')
              })
            }
          />
        </span>
      </div>
      {spot.at !== null && (
        <p>
          {say`pH ${num(spot.ph, 2, units)} · newest reading ${num(spot.newestPh, 2, units)} · moisture ${withUnit(read(spot.moisture), moisture, units)}`}{' '}
          ·{' '}
          {withUnit(
            spot.temperatureC === null ? null : warmth.shown(spot.temperatureC),
            warmth,
            units,
          )}{' '}
          · <span class="faint">{age(spot.at, now)}</span>
        </p>
      )}
      {spot.leftOut !== null && <p class="sentence">{say`Its pH is left out: ${spot.leftOut}`}</p>}
      {name !== null && (
        <Form
          label={say`Rename ${spot.spot}`}
          busy={busy}
          submit={say`Save name`}
          onCancel={() => setName(null)}
          onSubmit={() =>
            send(async () => {
              await api.renameSpot(spot.spotId, name)
              await refresh('beds')
              setName(null)
            })
          }
        >
          <Field
            label={say`Name of the spot`}
            value={name}
            onInput={setName}
            error={errorFor(problem, 'name')}
          />
        </Form>
      )}
      <FormProblem problem={problem} fields={name === null ? [] : ['name']} />
    </li>
  )
}

/** The spots of a bed: what each reads, and the means to add, rename and remove them. */
export function Spots({ bed }: { bed: BedView }) {
  const { refresh } = useHub()
  const [name, setName] = useState('')
  const { problem, busy, send } = useSend()
  return (
    <section class="sheet" aria-labelledby="spots-title">
      <h2 id="spots-title">{say`Spots`}</h2>
      {bed.spots.length === 0 && (
        <p class="sentence">
          {say`No spot yet. A spot is a place in the bed where a probe sits; two or three apart from each other say much more than one.`}
        </p>
      )}
      <ul class="spot-list">
        {bed.spots.map((spot) => (
          <SpotRow key={spot.spotId} spot={spot} />
        ))}
      </ul>
      <Form
        label={say`New spot`}
        busy={busy}
        submit={say`Add spot`}
        onSubmit={() =>
          send(async () => {
            await api.addSpot(bed.id, name)
            await refresh('beds')
            setName('')
          })
        }
      >
        <FormProblem problem={problem} fields={['name']} />
        <Field
          label={say`New spot`}
          value={name}
          onInput={setName}
          hint={say`such as north end, or by the water butt`}
          error={errorFor(problem, 'name')}
        />
      </Form>
    </section>
  )
}
