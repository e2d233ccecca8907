import { useState } from 'preact/hooks'
import type { CalibrationView, ProbeView as Probe } from '../../../hub/api/schemas/probe.ts'
import { api } from '../api.ts'
import { age, amount, dateTime, num, SENSED_WORDS, span, upTo } from '../format.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { CalibrationForm, CheckWords } from '../parts/calibration-form.tsx'
import { Choice, Confirm, Field, Form, FormProblem, useSend } from '../parts/field.tsx'
import { Link } from '../parts/link.tsx'
import { StrangerStrip } from '../parts/stranger-strip.tsx'
import { probeStateWords } from '../probe-words.ts'
import { errorFor } from '../problem.ts'
import { fromInputTime, toInputTime } from '../zone.ts'

function Channels({ probe }: { probe: Probe }) {
  const { garden } = useHub()
  const now = useNow()
  return (
    <section class="sheet" aria-labelledby="channels">
      <h2 id="channels">Channels</h2>
      {probe.channels.length === 0 ? (
        <p class="sentence">Nothing measured yet.</p>
      ) : (
        <table class="stack">
          <thead>
            <tr>
              <th scope="col">Channel</th>
              <th scope="col">Senses</th>
              <th scope="col">Latest, as sent</th>
              <th scope="col">When</th>
              <th scope="col">Depth</th>
            </tr>
          </thead>
          <tbody>
            {probe.channels.map((channel) => (
              <tr key={channel.name}>
                <td class="id">{channel.name}</td>
                <td data-label="Senses">
                  {SENSED_WORDS[channel.senses]}
                  {!channel.described && <span class="faint"> (guessed from the name)</span>}
                </td>
                <td data-label="Latest, as sent">
                  {channel.latest === null
                    ? channel.latestAt === null
                      ? 'nothing yet'
                      : 'sensor failed'
                    : `${upTo(channel.latest, 2, garden.units)} ${channel.unit}`}
                </td>
                <td data-label="When">
                  {channel.latestAt === null ? '–' : age(channel.latestAt, now)}
                </td>
                <td data-label="Depth">
                  {channel.depthM === null ? '–' : amount('depth', channel.depthM, garden.units)}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </section>
  )
}

function Placement({ probe, onChange }: { probe: Probe; onChange: () => void }) {
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
    if (at === null) return refuse([{ path: 'from', message: 'give a day and a time' }])
    send(async () => {
      await api.placeProbe(probe.id, { spotId: spot === '' ? null : Number(spot), from: at })
      onChange()
    })
  }
  const where = probe.bedId !== null && probe.bed !== null
  return (
    <section class="sheet" aria-labelledby="placement">
      <h2 id="placement">Where it sits</h2>
      <p class="sentence">
        {where && probe.bedId !== null ? (
          <>
            In <Link to={{ page: 'bed', id: probe.bedId }}>{probe.bed}</Link>, {probe.spot}.
          </>
        ) : (
          'In no spot: its readings are kept, but belong to no bed.'
        )}
      </p>
      {spots.length === 0 ? (
        <p class="sentence">
          There is no spot to put it in yet.{' '}
          <Link to={{ page: 'garden' }}>Add a spot to a bed first.</Link>
        </p>
      ) : (
        <Form label="Move the probe" onSubmit={save} busy={busy} submit="Save place">
          <FormProblem problem={problem} fields={['spotId', 'from']} />
          <div class="fields">
            <Choice
              label="Spot"
              value={spot}
              options={[{ value: '', words: 'in no spot' }, ...spots]}
              onChange={setSpot}
              error={errorFor(problem, 'spotId')}
            />
            <Field
              label="Since"
              type="datetime-local"
              value={from}
              onInput={setFrom}
              hint={`on the garden's clock, ${garden.zone}`}
              error={errorFor(problem, 'from')}
            />
          </div>
        </Form>
      )}
      {probe.placements.length > 0 && (
        <>
          <h3>Places so far</h3>
          <table class="stack">
            <thead>
              <tr>
                <th scope="col">Spot</th>
                <th scope="col">From</th>
                <th scope="col">Until</th>
              </tr>
            </thead>
            <tbody>
              {probe.placements.map((placement) => (
                <tr key={placement.id}>
                  <td>
                    {placement.bed}: {placement.spot}
                  </td>
                  <td data-label="From">{dateTime(placement.from, garden)}</td>
                  <td data-label="Until">
                    {placement.to === null ? 'still there' : dateTime(placement.to, garden)}
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

function pointsWords(calibration: CalibrationView, units: 'metric' | 'us'): string {
  if (calibration.kind === 'moisture') {
    return `dry ${num(calibration.dryRaw, 0, units)}, wet ${num(calibration.wetRaw, 0, units)}`
  }
  const points = calibration.points.map(
    (p) => `pH ${upTo(p.ph, 3, units)} at ${num(p.emfMv, 1, units)} mV`,
  )
  const warmth =
    calibration.temperatureC === null
      ? []
      : [amount('temperature', calibration.temperatureC, units)]
  return [...points, ...warmth].join(', ')
}

function Calibrations({ probe, onChange }: { probe: Probe; onChange: () => void }) {
  const { garden } = useHub()
  const [adding, setAdding] = useState(false)
  const { problem, send } = useSend()
  const newestFirst = probe.calibrations.toSorted((a, b) => b.at - a.at)
  return (
    <section class="sheet" aria-labelledby="calibrations">
      <div class="section-head">
        <h2 id="calibrations">Calibrations</h2>
        {!adding && (
          <button type="button" onClick={() => setAdding(true)}>
            Enter a calibration
          </button>
        )}
      </div>
      <p class="faint">
        Each holds from its date until the next of the same channel, also for readings already
        stored.
      </p>
      {adding && (
        <CalibrationForm
          probe={probe}
          onDone={() => {
            setAdding(false)
            onChange()
          }}
        />
      )}
      <FormProblem problem={problem} fields={[]} />
      {newestFirst.length === 0 && (
        <p class="sentence">
          None yet: until then there is no pH and no moisture, only raw values.
        </p>
      )}
      <ul class="spot-list">
        {newestFirst.map((calibration) => (
          <li key={calibration.id}>
            <div class="section-head">
              <span>
                <strong class="id">{calibration.channel}</strong> from{' '}
                {dateTime(calibration.at, garden)}
              </span>
              <Confirm
                words="Remove"
                ask="Remove this calibration? Stored readings are read by the one before."
                onYes={() =>
                  send(async () => {
                    await api.removeCalibration(calibration.id)
                    onChange()
                  })
                }
              />
            </div>
            <p class="faint">
              {pointsWords(calibration, garden.units)}
              {calibration.note !== '' && ` – ${calibration.note}`}
            </p>
            <CheckWords check={calibration.check} />
          </li>
        ))}
      </ul>
    </section>
  )
}

function Name({ probe, onChange }: { probe: Probe; onChange: () => void }) {
  const [name, setName] = useState(probe.name === probe.id ? '' : probe.name)
  const { problem, busy, send } = useSend()
  return (
    <Form
      label="Name of the probe"
      busy={busy}
      submit="Save name"
      onSubmit={() =>
        send(async () => {
          await api.saveProbe(probe.id, name)
          onChange()
        })
      }
    >
      <FormProblem problem={problem} fields={['name']} />
      <Field
        label="Name"
        value={name}
        onInput={setName}
        hint="empty: its id is its name"
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
    if (live.problem === null) return <p class="quiet-line">Fetching the probe …</p>
    return (
      <>
        <h1 class="id">{id}</h1>
        <p class="sentence">
          {live.problem.status === 404
            ? 'No probe of this id has spoken yet.'
            : `The probe could not be fetched: ${live.problem.title}.`}{' '}
          <Link to={{ page: 'probes' }}>Back to the probes</Link>
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
      <section class="sheet" aria-label="The probe">
        <dl class="facts">
          <dt>Id</dt>
          <dd class="id">{probe.id}</dd>
          <dt>State</dt>
          <dd>{probeStateWords(probe, now)}</dd>
          <dt>Last heard</dt>
          <dd>
            {age(probe.lastSeenAt, now)}, first {dateTime(probe.firstSeenAt, garden)}
          </dd>
          {probe.intervalS !== null && (
            <>
              <dt>Measures every</dt>
              <dd>{span(probe.intervalS)}</dd>
            </>
          )}
          {(probe.firmware !== null || probe.hardware !== null) && (
            <>
              <dt>Built from</dt>
              <dd>
                {[probe.hardware, probe.firmware].filter((x) => x !== null).join(', firmware ')}
              </dd>
            </>
          )}
        </dl>
        {probe.adoptedAt !== null && <Name probe={probe} onChange={changed} />}
      </section>
      <Channels probe={probe} />
      {probe.adoptedAt !== null && (
        <>
          <Placement probe={probe} onChange={changed} />
          <Calibrations probe={probe} onChange={changed} />
        </>
      )}
    </div>
  )
}
