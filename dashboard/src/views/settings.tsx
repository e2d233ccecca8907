import type { Health } from '../../../hub/api/schemas/health.ts'
import { api } from '../api.ts'
import { age, dateTime, num, whole } from '../format.ts'
import { useHub, useLoad, useNow } from '../hub-context.tsx'
import { GardenForm } from '../parts/garden-form.tsx'
import { ingestSteps, refusedStep } from '../parts/hub-steps.ts'
import { Link } from '../parts/link.tsx'
import { ThisDevice } from '../parts/offline/this-device.tsx'
import { SeasonForm } from '../parts/review/season-form.tsx'
import { Storage } from '../parts/storage/storage.tsx'
import { said, say, toSay } from '../say.ts'
import { saying } from '../saying.ts'

/** What is large has a page of its own. */
const OTHER_PAGES = [
  ['messages', toSay('Messages'), toSay('how alarms reach you, with a test')],
  ['people', toSay('People and access'), toSay('who may look and change, shared beds, programs')],
  ['data', toSay('Data'), toSay('readings and records in and out, backup')],
  ['interfaces', toSay('Interfaces'), toSay('what other programs can have of the hub')],
] as const
/** What is a form and nothing else. */
const FORMS: readonly string[] = ['garden-title', 'planning-title']
const SECTIONS = [
  ['garden-title', toSay('The garden'), toSay('name, time zone, language, units')],
  ['planning-title', toSay('Planning'), toSay('growing season, currency')],
  ['health-title', toSay('The hub'), toSay('broker, store, disk, what was counted')],
  ['storage-title', toSay('Storage'), toSay('what is on the disk, how long raw readings are kept')],
  ['this-device', toSay('This device'), toSay('what works here without a connection')],
  ['quarantine', toSay('Quarantine'), toSay('messages nobody could use')],
] as const

/** How a part of the hub is. */
const STATES = {
  up: toSay('up'),
  connecting: toSay('connecting'),
  down: toSay('down'),
} as const

function HubHealth({ health }: { health: Health }) {
  const { garden } = useHub()
  const now = useNow()
  const { broker, store, evaluation, counts } = health
  const n = (x: number): string => whole(x, garden.units)
  const gb = (bytes: number): string => num(bytes / 1e9, 1, garden.units)
  return (
    <dl class="facts">
      <dt>{say`Hub`}</dt>
      <dd>
        {health.status === 'ok'
          ? say`well, version ${health.version}, running since ${dateTime(health.startedAt, garden)}`
          : say`in trouble, version ${health.version}, running since ${dateTime(health.startedAt, garden)}`}
        {health.demo && say`, with the demo garden`}
      </dd>
      <dt>{say`Broker`}</dt>
      <dd>
        {broker.kind === 'embedded' ? say`its own` : say`external`}, {said(STATES[broker.state])},{' '}
        <span class="id">{broker.address}</span>, {say`since ${dateTime(broker.since, garden)}`}
        {broker.problem !== null && <span class="error"> – {broker.problem}</span>}
      </dd>
      <dt>{say`Store`}</dt>
      <dd>
        {said(STATES[store.state])}
        {store.problem !== null && store.about === undefined && (
          <span class="error"> – {store.problem}</span>
        )}
        {counts.damaged > 0 && (
          <span class="error">
            {' – '}
            {saying(
              toSay('damaged readings: {0}, see {1}'),
              n(counts.damaged),
              <a href="#storage-title">{say`Storage`}</a>,
            )}
          </span>
        )}
      </dd>
      {health.intakeLog && (
        <>
          <dt>{say`Ingest processes`}</dt>
          <dd>
            {said(STATES[health.intakeLog.state])}
            {health.intakeLog.problem !== null && (
              <span class="error"> – {health.intakeLog.problem}</span>
            )}
          </dd>
          {health.intakeLog.logs.map((log) => (
            <dd key={`${log.writer} ${log.spool}`}>
              {say`${log.writer}: ${n(log.row)} messages taken, ${n(log.behind)} wait`}
              {log.clockOffMs !== null &&
                say`, its clock is off by ${n(Math.round(Math.abs(log.clockOffMs) / 1000))} s`}
              {log.silentSince !== null && (
                <span class="error">{say`, silent since ${dateTime(log.silentSince, garden)}`}</span>
              )}
              {log.problem !== null && <span class="error"> – {log.problem}</span>}
              {ingestSteps(log).map((step) => (
                <small key={step} class="hint">
                  {' '}
                  {step}
                </small>
              ))}
            </dd>
          ))}
        </>
      )}
      {health.influx && (
        <>
          <dt>InfluxDB</dt>
          <dd>
            {said(STATES[health.influx.state])},{' '}
            {say`since ${dateTime(health.influx.since, garden)}`}
            {', '}
            {health.influx.waiting === 1
              ? say`one reading on its way`
              : say`${n(health.influx.waiting)} readings on their way`}
            {health.influx.problem !== null && (
              <span class="error"> – {health.influx.problem}</span>
            )}
          </dd>
          {health.influx.refused > 0 && (
            <dd>
              {health.influx.refused === 1
                ? say`one reading is not taken there and stays here`
                : say`${n(health.influx.refused)} readings are not taken there and stay here`}
              {health.influx.why !== null && <span class="error"> – {health.influx.why}</span>}{' '}
              <small class="hint">{refusedStep(health.influx)}</small>
            </dd>
          )}
        </>
      )}
      {health.disk && (
        <>
          <dt>{say`Disk`}</dt>
          <dd>{say`${gb(health.disk.freeBytes)} GB free of ${gb(health.disk.totalBytes)} GB`}</dd>
        </>
      )}
      <dt>{say`Last look at the beds`}</dt>
      <dd>
        {evaluation.lastAt === null ? say`none yet` : age(evaluation.lastAt, now)}
        {evaluation.problem !== null && <span class="error"> – {evaluation.problem}</span>}
      </dd>
      <dt>{say`Readings stored`}</dt>
      <dd>
        {say`${n(counts.readings)}; repeated ones dropped ${n(counts.duplicates)}; lost ${n(counts.lost)}`}
      </dd>
      <dt>{say`Probes`}</dt>
      <dd>
        {counts.strangers === 1
          ? say`${n(counts.probes)} taken in, one stranger`
          : say`${n(counts.probes)} taken in, ${n(counts.strangers)} strangers`}
      </dd>
      <dt>{say`Messages in quarantine`}</dt>
      <dd>{n(counts.quarantined - counts.quarantineDropped)}</dd>
    </dl>
  )
}

function Quarantine({ count, dropped }: { count: number; dropped: number }) {
  const { garden } = useHub()
  const rows = useLoad('quarantine', (signal) => api.quarantine(50, signal), count)
  return (
    <section class="sheet" aria-labelledby="quarantine">
      <h2 id="quarantine">{say`Quarantine`}</h2>
      <p class="sentence">{say`Messages nobody could use, kept as they came, with what was expected.`}</p>
      {dropped > 0 && (
        <p class="sentence">
          {dropped === 1
            ? say`The newest 64 MiB are kept; one older message had to make room.`
            : say`The newest 64 MiB are kept; ${whole(dropped, garden.units)} older messages had to make room.`}
        </p>
      )}
      {rows.problem !== null && (
        <p class="error">{say`Could not be fetched: ${rows.problem.title}.`}</p>
      )}
      {rows.data?.length === 0 && <p class="faint">{say`Empty.`}</p>}
      <ul class="spot-list">
        {rows.data?.map((row) => (
          <li key={row.id}>
            <p>
              {dateTime(row.arrivedAt, garden)} · <span class="id">{row.topic}</span>
            </p>
            <p class="sentence">{row.reason}</p>
            <pre class="command">
              <code>{row.payload}</code>
            </pre>
          </li>
        ))}
      </ul>
    </section>
  )
}

/** What holds for the plans of all beds. */
function Planning() {
  const { loaded } = useHub()
  const settings = useLoad(loaded ? 'settings' : null, api.planningSettings)
  return (
    <section data-needs="change" class="sheet" aria-labelledby="planning-title">
      <h2 id="planning-title">{say`Planning`}</h2>
      <p class="sentence">
        {saying(
          toSay(
            'Portions of a plan go on within the growing season. Prices are kept with the {0}.',
          ),
          <Link to={{ page: 'review' }}>{say`review`}</Link>,
        )}
      </p>
      {settings.problem !== null && (
        <p class="error" role="alert">
          {say`Could not be fetched: ${settings.problem.detail ?? settings.problem.title}.`}{' '}
          <button type="button" onClick={settings.reload}>
            {say`Fetch again`}
          </button>
        </p>
      )}
      {settings.data !== null && <SeasonForm settings={settings.data} />}
    </section>
  )
}

/** The garden's record, how it is planned, and the hub's health. */
export function SettingsView() {
  const { garden, health, loaded } = useHub()
  if (!loaded) return <p class="quiet-line">{say`Fetching the garden …`}</p>
  return (
    <>
      <div class="page-head">
        <h1>{say`Settings`}</h1>
      </div>
      <nav class="contents" aria-label={say`Contents`}>
        <dl>
          {OTHER_PAGES.map(([page, words, what]) => (
            <div key={page} data-needs={page === 'messages' ? 'change' : undefined}>
              <dt>
                <Link to={{ page }}>{said(words)}</Link>
              </dt>
              <dd>{said(what)}</dd>
            </div>
          ))}
          {SECTIONS.map(([anchor, words, what]) => (
            <div key={anchor} data-needs={FORMS.includes(anchor) ? 'change' : undefined}>
              <dt>
                <a href={`#${anchor}`}>{said(words)}</a>
              </dt>
              <dd>{said(what)}</dd>
            </div>
          ))}
        </dl>
      </nav>
      <section data-needs="change" class="sheet" aria-labelledby="garden-title">
        <h2 id="garden-title">{say`The garden`}</h2>
        <GardenForm garden={garden} />
      </section>
      <Planning />
      <section class="sheet" aria-labelledby="health-title">
        <h2 id="health-title">{say`The hub`}</h2>
        {health === null ? (
          <p class="faint">{say`Not heard from yet.`}</p>
        ) : (
          <HubHealth health={health} />
        )}
      </section>
      <Storage />
      <ThisDevice />
      <Quarantine
        count={health?.counts.quarantined ?? 0}
        dropped={health?.counts.quarantineDropped ?? 0}
      />
    </>
  )
}
