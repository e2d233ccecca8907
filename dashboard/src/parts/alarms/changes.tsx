import type { Alarm, AlarmChange } from '../../../../hub/api/schemas/alarm.ts'
import { CHANGE_WORDS } from '../../alarm-words.ts'
import { api } from '../../api.ts'
import { dateTime } from '../../format.ts'
import { useHub, useLoad } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'

/** What happened to one alarm, first to last. */
export function Changes({ alarm }: { alarm: Alarm }) {
  const { garden, alarmTick } = useHub()
  const { data, problem } = useLoad(
    `alarm ${alarm.id}`,
    (signal) => api.alarm(alarm.id, signal),
    `${alarmTick} ${alarm.changedAt}`,
  )
  if (data === null) {
    return problem === null ? (
      <p class="quiet-line">{say`Fetching what happened …`}</p>
    ) : (
      <p class="error">{say`What happened could not be fetched: ${problem.title}.`}</p>
    )
  }
  if (data.changes.length === 0) {
    return <p class="quiet-line">{say`Nothing was written down of what happened to it.`}</p>
  }
  return (
    <ol class="alarm-changes">
      {data.changes.map((change) => (
        <li key={change.id}>
          <time dateTime={new Date(change.at).toISOString()}>{dateTime(change.at, garden)}</time>
          <span>
            <strong>{said(CHANGE_WORDS[change.what])}</strong>
            {change.what === 'shelved' &&
              change.shelvedUntil !== null &&
              ` ${say`until ${dateTime(change.shelvedUntil, garden)}`}`}
            {change.by !== null && ` · ${change.by}`}
            {saidThen(change) && <span class="alarm-said">{change.sentence}</span>}
            {change.note !== '' && <q class="alarm-note">{change.note}</q>}
          </span>
        </li>
      ))}
    </ol>
  )
}

/** What it said then is told where that is what changed. */
const saidThen = ({ what }: AlarmChange): boolean => what === 'raised' || what === 'changed'
