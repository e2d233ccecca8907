import type { Alarm } from '../../../hub/api/schemas/alarm.ts'
import { type AlarmGroup, groupByBed, isShelved, waits } from '../alarm-words.ts'
import { api } from '../api.ts'
import { useHub, useLoad } from '../hub-context.tsx'
import { AlarmEntry } from '../parts/alarms/alarm-entry.tsx'
import { PastAlarms } from '../parts/alarms/past-alarms.tsx'
import '../parts/alarms/alarms.css'
import { FormProblem, useSend } from '../parts/field.tsx'
import { Link } from '../parts/link.tsx'
import { say } from '../say.ts'

/** The alarms of one bed, with a button for all of them. */
function Group({ group }: { group: AlarmGroup }) {
  const { refresh } = useHub()
  const { problem, busy, send } = useSend()
  const { bedId, bed, alarms } = group
  const open = alarms.filter(waits)
  const id = `alarms-${bedId ?? 'hub'}`
  return (
    <section class="sheet flush alarm-group" aria-labelledby={id}>
      <div class="alarm-group-head">
        <h2 id={id}>
          {bedId === null ? say`The hub` : <Link to={{ page: 'bed', id: bedId }}>{bed}</Link>}
        </h2>
        {open.length > 0 && (
          <button
            data-needs="change"
            type="button"
            aria-disabled={busy}
            onClick={() =>
              send(async () => {
                await api.acknowledgeAlarms(open.map((alarm) => alarm.id))
                await refresh('beds')
              })
            }
          >
            {open.length === 1 ? say`Acknowledge` : say`Acknowledge all ${open.length}`}
          </button>
        )}
      </div>
      <FormProblem problem={problem} fields={[]} />
      {alarms.map((alarm) => (
        <AlarmEntry key={alarm.id} alarm={alarm} />
      ))}
    </section>
  )
}

function headline(open: readonly Alarm[]): string {
  const waiting = open.filter(waits).length
  if (open.length === 0) return say`Nothing is amiss: no alarm is open.`
  if (waiting === 0) return say`Every open alarm has been acknowledged.`
  return waiting === 1
    ? say`One alarm waits to be acknowledged.`
    : say`${waiting} alarms wait to be acknowledged.`
}

/** The book of alarms: open ones by bed, those on the shelf, then what is over. */
export function AlarmsView() {
  const { alarmTick, loaded, connection } = useHub()
  const alarms = useLoad(
    loaded ? 'open alarms' : null,
    (signal) => api.alarms({ open: true, limit: 1000 }, signal),
    `${alarmTick} ${connection}`,
  )
  if (alarms.data === null) {
    return alarms.problem === null ? (
      <p class="quiet-line">{say`Fetching the alarms …`}</p>
    ) : (
      <p class="error">{say`The alarms could not be fetched: ${alarms.problem.title}.`}</p>
    )
  }
  const open = alarms.data.filter((alarm) => !isShelved(alarm))
  const shelved = alarms.data.filter(isShelved)
  return (
    <>
      <div class="page-head">
        <h1>{say`Alarms`}</h1>
      </div>
      <p class="sentence">{headline(open)}</p>
      {groupByBed(open).map((group) => (
        <Group key={group.bedId ?? 'hub'} group={group} />
      ))}
      {shelved.length > 0 && (
        <section class="sheet" aria-labelledby="shelf">
          <h2 id="shelf">{say`On the shelf`}</h2>
          {shelved.map((alarm) => (
            <AlarmEntry key={alarm.id} alarm={alarm} brief />
          ))}
        </section>
      )}
      <PastAlarms />
    </>
  )
}
