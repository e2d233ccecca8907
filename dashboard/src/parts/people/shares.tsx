import { useState } from 'preact/hooks'
import type { MadeKey } from '../../../../hub/api/schemas/account.ts'
import { api } from '../../api.ts'
import { useHub, useLoad } from '../../hub-context.tsx'
import { errorFor } from '../../problem.ts'
import { say } from '../../say.ts'
import { Choice, Field, FormProblem, useSend } from '../field.tsx'
import { Confirm, Form } from '../form.tsx'
import { Link } from '../link.tsx'
import { endOf, Keys } from './keys.tsx'
import { ShownOnce } from './shown-once.tsx'

const addressOf = (path: string): string => new URL(path, location.origin).href

function MakeShare({
  onMade,
  onCancel,
}: {
  onMade: (made: MadeKey) => void
  onCancel: () => void
}) {
  const { garden, beds } = useHub()
  const [name, setName] = useState('')
  const [bed, setBed] = useState(String(beds[0]?.id ?? ''))
  const [ends, setEnds] = useState('')
  const { problem, busy, send } = useSend()
  return (
    <Form
      label={say`Share a bed`}
      busy={busy}
      submit={say`Make the link`}
      onCancel={onCancel}
      onSubmit={() =>
        send(async () => {
          const endsAt = endOf(ends, garden.zone)
          onMade(await api.makeShare({ name, bedId: Number(bed), endsAt }))
        })
      }
    >
      <FormProblem problem={problem} fields={['name', 'bedId', 'endsAt']} />
      <div class="fields">
        <Choice
          label={say`Bed`}
          value={bed}
          options={beds.map(({ id, name: words }) => ({ value: String(id), words }))}
          onChange={setBed}
          error={errorFor(problem, 'bedId')}
        />
        <Field
          label={say`For whom`}
          value={name}
          onInput={setName}
          error={errorFor(problem, 'name')}
        />
        <Field
          label={say`Last day`}
          type="date"
          value={ends}
          onInput={setEnds}
          hint={say`empty: until it is taken back`}
          error={errorFor(problem, 'endsAt')}
        />
      </div>
    </Form>
  )
}

/** Links that show one bed to whoever has them. */
export function Shares() {
  const { beds } = useHub()
  const shares = useLoad('shares', (signal) => api.keys('shares', signal))
  const [making, setMaking] = useState(false)
  const [made, setMade] = useState<MadeKey | null>(null)
  return (
    <section class="sheet" aria-labelledby="shares">
      <h2 id="shares">{say`Shared beds`}</h2>
      <p class="sentence">
        {say`Whoever has such a link sees that one bed, as it is now and its last 90 days, and nothing else.`}
      </p>
      <Keys
        kind="shares"
        keys={shares.data ?? []}
        about={(key) => {
          const bed = beds.find(({ id }) => id === key.bedId)
          return bed === undefined ? (
            say`A bed that is out of use`
          ) : (
            <Link to={{ page: 'bed', id: bed.id }}>{bed.name}</Link>
          )
        }}
        onChange={shares.reload}
      />
      {made !== null && (
        <div class="made" role="status">
          <p>{say`This is the link. It is shown this once; the hub keeps only what it is checked with.`}</p>
          {made.paths.map((path) => (
            <ShownOnce key={path} label={made.key.name} text={addressOf(path)} />
          ))}
        </div>
      )}
      {making ? (
        <MakeShare
          onCancel={() => setMaking(false)}
          onMade={(key) => {
            setMade(key)
            setMaking(false)
            shares.reload()
          }}
        />
      ) : (
        beds.length > 0 && (
          <p class="buttons">
            <button type="button" onClick={() => setMaking(true)}>{say`Share a bed`}</button>
          </p>
        )
      )}
    </section>
  )
}

/** The secret address of the calendar and the feed, which programs fetch without signing in. */
export function FeedAddress() {
  const feed = useLoad('feed-address', api.feedAddress)
  const [made, setMade] = useState<MadeKey | null>(null)
  const { problem, send } = useSend()
  const make = (): void =>
    send(async () => {
      setMade(await api.makeFeedAddress())
      feed.reload()
    })
  return (
    <section class="sheet" aria-labelledby="feeds">
      <h2 id="feeds">{say`Addresses for calendar and feed programs`}</h2>
      <p class="sentence">
        {say`Programs that cannot sign in fetch the calendar and the feed of alarms at secret addresses.`}
      </p>
      <FormProblem problem={problem} fields={[]} />
      {made !== null && (
        <div class="made" role="status">
          <p>{say`These are the addresses. They are shown this once; the hub keeps only what they are checked with.`}</p>
          {made.paths.map((path) => (
            <ShownOnce
              key={path}
              label={path.includes('.ics') ? say`Calendar` : say`Alarms`}
              text={addressOf(path)}
            />
          ))}
        </div>
      )}
      {feed.data === null ? (
        <p class="buttons">
          <button type="button" onClick={make}>{say`Make the addresses`}</button>
        </p>
      ) : (
        <p class="buttons">
          <Confirm
            words={say`Make new addresses`}
            ask={say`The old addresses stop working at once. Go on?`}
            onYes={make}
          />
          <Confirm
            words={say`Take the addresses back`}
            ask={say`Programs that fetch them are not let in any more. Go on?`}
            onYes={() =>
              send(async () => {
                await api.removeFeedAddress()
                setMade(null)
                feed.reload()
              })
            }
          />
        </p>
      )}
    </section>
  )
}
