import type { Alarm } from '../../../hub/api/schemas/alarm.ts'
import { api } from '../api.ts'
import { ALARM_WORDS, dateTime } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import { opening } from '../opening.ts'
import { FormProblem, useSend } from './field.tsx'
import { Link } from './link.tsx'

/** What to do: all of it, or on the wall the first step with the rest behind it. */
function Advice({ text, brief }: { text: string; brief: boolean }) {
  const [first, rest] = opening(text)
  if (!brief || rest === '') return <p class="advice">{text}</p>
  return (
    <details class="advice">
      <summary>
        {first} <span class="more">What else</span>
      </summary>
      <p>{rest}</p>
    </details>
  )
}

/** An alarm that is not over, as a strip: what happened, what to do, a button. */
export function AlarmStrip({ alarm, brief = false }: { alarm: Alarm; brief?: boolean }) {
  const { garden, refresh } = useHub()
  const { problem, busy, send } = useSend()
  const waits = alarm.state === 'unacknowledged' || alarm.state === 'returned'
  return (
    <div class={`strip ${alarm.kind} ${waits ? 'waits' : 'seen'}`} data-alarm={alarm.id}>
      <div>
        <p class="strip-head">
          <strong>{ALARM_WORDS[alarm.kind]}</strong>
          <span> · since {dateTime(alarm.evidence.since ?? alarm.raisedAt, garden)}</span>
          {alarm.overSince !== null && alarm.returnedAt === null && (
            <span>
              {' '}
              · seems over since {dateTime(alarm.overSince, garden)}, watched a while longer
            </span>
          )}
          {alarm.state === 'returned' && <span> · back to normal</span>}
          {alarm.acknowledgedAt !== null && (
            <span> · acknowledged {dateTime(alarm.acknowledgedAt, garden)}</span>
          )}
        </p>
        <p class="sentence">{alarm.sentence}</p>
        <Advice text={alarm.advice} brief={brief} />
        <p>
          <Link to={{ page: 'plan', id: alarm.bedId }}>Decide what to do about {alarm.bed}</Link>
        </p>
        <FormProblem problem={problem} fields={[]} />
      </div>
      {waits && (
        <button
          data-needs="change"
          type="button"
          aria-disabled={busy}
          onClick={() =>
            send(async () => {
              await api.acknowledge(alarm.id)
              await refresh('beds')
            })
          }
        >
          Acknowledge
        </button>
      )}
    </div>
  )
}
