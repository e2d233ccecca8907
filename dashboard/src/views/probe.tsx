import { useState } from 'preact/hooks'
import type { ProbeView as Probe } from '../../../hub/api/schemas/probe.ts'
import { api } from '../api.ts'
import { age, dateTime, span } from '../format.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { Calibrations } from '../parts/calibrations.tsx'
import { ChannelHistory } from '../parts/channel-history.tsx'
import { Channels } from '../parts/channels.tsx'
import { Field, FormProblem, useSend } from '../parts/field.tsx'
import { Form } from '../parts/form.tsx'
import { Link } from '../parts/link.tsx'
import { Losses } from '../parts/losses.tsx'
import { Orders } from '../parts/orders.tsx'
import { OverLimit } from '../parts/access/over-limit.tsx'
import { Password } from '../parts/access/password.tsx'
import { Placement } from '../parts/placement.tsx'
import { StrangerStrip } from '../parts/stranger-strip.tsx'
import {
  batteryWords,
  calibratedWords,
  nextWords,
  probeStateWords,
  signalWords,
} from '../probe-words.ts'
import { errorFor } from '../problem.ts'
import { say } from '../say.ts'

function Name({ probe, onChange }: { probe: Probe; onChange: () => void }) {
  const [name, setName] = useState(probe.name === probe.id ? '' : probe.name)
  const { problem, busy, send } = useSend()
  return (
    <Form
      label={say`Name of the probe`}
      busy={busy}
      submit={say`Save name`}
      onSubmit={() =>
        send(async () => {
          await api.saveProbe(probe.id, name)
          onChange()
        })
      }
    >
      <FormProblem problem={problem} fields={['name']} />
      <Field
        label={say`Name`}
        value={name}
        onInput={setName}
        hint={say`empty: its id is its name`}
        error={errorFor(problem, 'name')}
      />
    </Form>
  )
}

/** One probe. */
export function ProbeView({ id }: { id: string }) {
  const { garden, loaded, probeTick, refresh } = useHub()
  const now = useNow()
  // Ten seconds at most: a probe's raw values are watched while it stands in a buffer.
  const live = useLoad(
    loaded ? id : null,
    (signal) => api.probe(id, signal),
    `${probeTick} ${Math.floor(now / 10_000)}`,
  )
  const probe = live.data
  if (probe === null) {
    if (live.problem === null) return <p class="quiet-line">{say`Fetching the probe …`}</p>
    return (
      <>
        <h1 class="id">{id}</h1>
        <p class="sentence">
          {live.problem.status === 404
            ? say`No probe of this id has spoken yet.`
            : say`The probe could not be fetched: ${live.problem.title}.`}{' '}
          <Link to={{ page: 'probes' }}>{say`Back to the probes`}</Link>
        </p>
      </>
    )
  }
  const changed = (): void => {
    live.reload()
    void refresh('probes', 'beds')
  }
  return (
    <div data-probe={probe.id}>
      <div class="page-head">
        <h1>{probe.name}</h1>
      </div>
      {probe.adoptedAt === null && <StrangerStrip probe={probe} />}
      <OverLimit probe={probe} />
      <section class="sheet" aria-label={say`The probe`}>
        <dl class="facts">
          <dt>{say`Id`}</dt>
          <dd class="id">{probe.id}</dd>
          <dt>{say`State`}</dt>
          <dd>{probeStateWords(probe, now)}</dd>
          <dt>{say`Last heard`}</dt>
          <dd>
            {say`${age(probe.lastSeenAt, now)}, first ${dateTime(probe.firstSeenAt, garden)}`}
          </dd>
          <dt>{say`Next`}</dt>
          <dd>{nextWords(probe, now)}</dd>
          <dt>{say`Battery`}</dt>
          <dd>{batteryWords(probe, garden.units)}</dd>
          <dt>{say`Signal`}</dt>
          <dd>{signalWords(probe, garden.units)}</dd>
          <dt>{say`In buffers`}</dt>
          <dd>{calibratedWords(probe, now)}</dd>
          {probe.intervalS !== null && (
            <>
              <dt>{say`Measures every`}</dt>
              <dd>{span(probe.intervalS)}</dd>
            </>
          )}
          {(probe.firmware !== null || probe.hardware !== null) && (
            <>
              <dt>{say`Built from`}</dt>
              <dd>
                {probe.firmware === null
                  ? probe.hardware
                  : probe.hardware === null
                    ? probe.firmware
                    : say`${probe.hardware}, firmware ${probe.firmware}`}
              </dd>
            </>
          )}
        </dl>
        {probe.adoptedAt !== null && <Name probe={probe} onChange={changed} />}
      </section>
      <Losses account={probe.account} />
      <Channels probe={probe} />
      <ChannelHistory probe={probe} />
      {probe.adoptedAt !== null && (
        <>
          <Placement probe={probe} onChange={changed} />
          <Orders probe={probe} onChange={changed} />
          <Calibrations probe={probe} onChange={changed} />
          <Password probe={probe} onChange={changed} />
        </>
      )}
    </div>
  )
}
