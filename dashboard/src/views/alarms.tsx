import { Fragment } from 'preact'
import type { Alarm } from '../../../hub/api/schemas/alarm.ts'
import { api } from '../api.ts'
import { causeNamed } from '../event-words.ts'
import { ALARM_STATE_WORDS, ALARM_WORDS, dateTime, num } from '../format.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import { AlarmStrip } from '../parts/alarm-strip.tsx'
import { Link } from '../parts/link.tsx'

/** What an alarm rests on, as data. */
function Evidence({ alarm }: { alarm: Alarm }) {
  const { garden } = useHub()
  const { evidence: e } = alarm
  const n = (x: number | null, decimals = 2): string => num(x, decimals, garden.units)
  const rows: [string, string][] = []
  if (e.from !== null && e.to !== null) rows.push(['pH', `${n(e.from)} → ${n(e.to)}`])
  if (e.change !== null) {
    const doubt = e.changeHalfWidth === null ? '' : ` ± ${n(e.changeHalfWidth)} (90 % interval)`
    rows.push(['Change', `${e.change > 0 ? '+' : ''}${n(e.change)}${doubt}`])
  }
  if (e.since !== null) rows.push(['Began', dateTime(e.since, garden)])
  if (e.spotsMoved.length > 0) rows.push(['Spots that moved', e.spotsMoved.join(', ')])
  if (e.spotsSteady.length > 0) rows.push(['Spots that did not', e.spotsSteady.join(', ')])
  if (e.cause !== null) rows.push(['Most likely', causeNamed(e.cause)])
  if (e.sureness !== null) rows.push(['How sure', `${n(e.sureness * 100, 0)} %`])
  rows.push(['Raised', dateTime(alarm.raisedAt, garden)])
  if (alarm.acknowledgedAt !== null)
    rows.push(['Acknowledged', dateTime(alarm.acknowledgedAt, garden)])
  if (alarm.returnedAt !== null) rows.push(['Back to normal', dateTime(alarm.returnedAt, garden)])
  return (
    <dl class="facts">
      <dt>Bed</dt>
      <dd>
        <Link to={{ page: 'bed', id: alarm.bedId }}>{alarm.bed}</Link>
      </dd>
      {alarm.subject !== '' && (
        <>
          <dt>Probe</dt>
          <dd>
            <Link to={{ page: 'probe', id: alarm.subject }} class="id">
              {alarm.subject}
            </Link>
          </dd>
        </>
      )}
      {rows.map(([name, value]) => (
        <Fragment key={name}>
          <dt>{name}</dt>
          <dd>{value}</dd>
        </Fragment>
      ))}
    </dl>
  )
}

/** Open alarms in full, past ones beneath. */
export function AlarmsView() {
  const { alarmTick, loaded, garden, connection } = useHub()
  const alarms = useLoad(
    loaded ? 'alarms' : null,
    (signal) => api.alarms({ limit: 200 }, signal),
    `${alarmTick} ${connection}`,
  )
  if (alarms.data === null) {
    return alarms.problem === null ? (
      <p class="quiet-line">Fetching the alarms …</p>
    ) : (
      <p class="error">The alarms could not be fetched: {alarms.problem.title}.</p>
    )
  }
  const open = alarms.data.filter((alarm) => alarm.state !== 'normal')
  const past = alarms.data.filter((alarm) => alarm.state === 'normal')
  return (
    <>
      <div class="page-head">
        <h1>Alarms</h1>
      </div>
      {open.length === 0 && <p class="sentence">Nothing is amiss: no alarm is open.</p>}
      {open.map((alarm) => (
        <section
          class="sheet flush"
          key={alarm.id}
          aria-label={`${ALARM_WORDS[alarm.kind]}, ${alarm.bed}`}
        >
          <AlarmStrip alarm={alarm} />
          <div class="inset">
            <Evidence alarm={alarm} />
          </div>
        </section>
      ))}
      {past.length > 0 && (
        <section class="sheet" aria-labelledby="past">
          <h2 id="past">Past</h2>
          {past.map((alarm) => (
            <details key={alarm.id} class="past">
              <summary>
                {dateTime(alarm.raisedAt, garden)} · {ALARM_WORDS[alarm.kind]}, {alarm.bed} ·{' '}
                {ALARM_STATE_WORDS[alarm.state]}
              </summary>
              <p class="sentence">{alarm.sentence}</p>
              <p class="advice">{alarm.advice}</p>
              <p>
                <Link to={{ page: 'plan', id: alarm.bedId }}>
                  Decide what to do about {alarm.bed}
                </Link>
              </p>
              <Evidence alarm={alarm} />
            </details>
          ))}
        </section>
      )}
    </>
  )
}
