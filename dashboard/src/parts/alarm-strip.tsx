import type { Alarm } from '../../../hub/api/schemas/alarm.ts'
import { firstApi } from '../first-api.ts'
import { ALARM_WORDS, dateTime } from '../format.ts'
import { useHub } from '../hub-context.tsx'
import { morePressing } from '../more-pressing.ts'
import { opening } from '../opening.ts'
import { said, say } from '../say.ts'
import { FormProblem, useSend } from './field.tsx'
import { Link } from './link.tsx'

/** What to do: all of it, or on the wall the first step with the rest behind it. */
function Advice({ text, brief }: { text: string; brief: boolean }) {
  const [first, rest] = opening(text)
  if (!brief || rest === '') return <p class="advice">{text}</p>
  return (
    <details class="advice">
      <summary>
        {first} <span class="more">{say`What else`}</span>
      </summary>
      <p>{rest}</p>
    </details>
  )
}

/** Where to go next about an alarm. */
export function NextStep({ alarm }: { alarm: Alarm }) {
  const { bedId, bed, kind, subject } = alarm
  if (kind === 'hub-trouble') {
    return subject === 'delivery' ? (
      <p>
        <Link to={{ page: 'messages' }}>{say`To the messages`}</Link>
      </p>
    ) : null
  }
  if (subject !== '') {
    return (
      <p>
        {kind === 'calibration-due' ? (
          <Link to={{ page: 'calibrate', id: subject }}>{say`Calibrate probe ${subject}`}</Link>
        ) : (
          <Link to={{ page: 'probe', id: subject }}>{say`To probe ${subject}`}</Link>
        )}
      </p>
    )
  }
  return bedId === null ? null : (
    <p>
      <Link to={{ page: 'plan', id: bedId }}>{say`Decide what to do about ${bed ?? ''}`}</Link>
    </p>
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
          <strong>{said(ALARM_WORDS[alarm.kind])}</strong>
          {' · '}
          <span>{say`since ${dateTime(alarm.evidence.since ?? alarm.raisedAt, garden)}`}</span>
          {alarm.overSince !== null &&
            alarm.returnedAt === null &&
            ` · ${say`seems over since ${dateTime(alarm.overSince, garden)}, watched a while longer`}`}
          {alarm.state === 'returned' && ` · ${say`back to normal`}`}
          {alarm.acknowledgedAt !== null &&
            ` · ${say`acknowledged ${dateTime(alarm.acknowledgedAt, garden)}`}`}
        </p>
        <p class="sentence">{alarm.sentence}</p>
        <Advice text={alarm.advice} brief={brief} />
        <NextStep alarm={alarm} />
        <FormProblem problem={problem} fields={[]} />
      </div>
      {waits && (
        <button
          data-needs="change"
          type="button"
          aria-disabled={busy}
          onClick={() =>
            send(async () => {
              await firstApi.acknowledge(alarm.id)
              await refresh('beds')
            })
          }
        >
          {say`Acknowledge`}
        </button>
      )}
    </div>
  )
}

/** Alarms that are not over, a strip each; those on the shelf are only counted. */
export function AlarmStrips({
  alarms,
  brief = false,
}: {
  alarms: readonly Alarm[]
  brief?: boolean
}) {
  const shown = alarms.filter(({ shelvedUntil }) => shelvedUntil === null)
  const shelved = alarms.length - shown.length
  const sorted = shown.toSorted(morePressing)
  // On the wall one strip a bed: the others wait behind a line.
  const strips = brief ? sorted.slice(0, 1) : sorted
  const [rest] = sorted.slice(strips.length)
  const more = sorted.length - strips.length
  return (
    <>
      {strips.map((alarm) => (
        <AlarmStrip key={alarm.id} alarm={alarm} brief={brief} />
      ))}
      {rest !== undefined && rest.bedId !== null && (
        <p class="strip-more">
          <Link to={{ page: 'bed', id: rest.bedId }}>
            {more === 1
              ? say`One more alarm of ${rest.bed ?? ''}`
              : say`${more} more alarms of ${rest.bed ?? ''}`}
          </Link>
        </p>
      )}
      {shelved > 0 && (
        <p class="quiet-line">
          <Link to={{ page: 'alarms' }}>
            {shelved === 1
              ? say`One alarm is on the shelf`
              : say`${shelved} alarms are on the shelf`}
          </Link>
        </p>
      )}
    </>
  )
}
