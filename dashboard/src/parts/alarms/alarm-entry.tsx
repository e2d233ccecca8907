import { useState } from 'preact/hooks'
import type { Alarm } from '../../../../hub/api/schemas/alarm.ts'
import { PRIORITY_WORDS, waits } from '../../alarm-words.ts'
import { ALARM_STATE_WORDS, ALARM_WORDS, dateTime } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { NextStep } from '../alarm-strip.tsx'
import { AlarmActs } from './alarm-acts.tsx'
import { Changes } from './changes.tsx'
import { Evidence } from './evidence.tsx'

/** Whether the address asks for this alarm. */
const isAsked = (alarm: Alarm): boolean => location.hash === `#alarm-${alarm.id}`

/** One alarm in the book: its line and sentence; opened, all that is behind it and what can be done with it. */
export function AlarmEntry({ alarm, brief = false }: { alarm: Alarm; brief?: boolean }) {
  const { garden } = useHub()
  const [open, setOpen] = useState(() => isAsked(alarm))
  const name = said(ALARM_WORDS[alarm.kind])
  const since = dateTime(alarm.evidence.since ?? alarm.raisedAt, garden)
  return (
    <details
      id={`alarm-${alarm.id}`}
      class={`alarm ${alarm.kind} ${waits(alarm) ? 'waits' : 'seen'}`}
      data-alarm={alarm.id}
      open={open}
      onToggle={(event) => setOpen(event.currentTarget.open)}
    >
      <summary>
        <span class="alarm-head">
          <strong>{name}</strong>
          {brief && alarm.bed !== null && <span>{alarm.bed}</span>}
          {alarm.state !== 'normal' && <span>{said(PRIORITY_WORDS[alarm.priority])}</span>}
          <span>{said(ALARM_STATE_WORDS[alarm.state])}</span>
          <span>{brief ? dateTime(alarm.raisedAt, garden) : say`since ${since}`}</span>
          {alarm.overSince !== null && alarm.returnedAt === null && (
            <span>
              {say`seems over since ${dateTime(alarm.overSince, garden)}, watched a while longer`}
            </span>
          )}
          {alarm.shelvedUntil !== null && (
            <span>{say`on the shelf until ${dateTime(alarm.shelvedUntil, garden)}`}</span>
          )}
        </span>
        {!brief && <span class="sentence">{alarm.sentence}</span>}
      </summary>
      {open && (
        <div class="alarm-body">
          {brief && <p class="sentence">{alarm.sentence}</p>}
          <h3>{say`What to do`}</h3>
          <p class="advice">{alarm.advice}</p>
          <NextStep alarm={alarm} />
          <h3>{say`What it rests on`}</h3>
          <Evidence alarm={alarm} />
          <h3>{say`What happened to it`}</h3>
          <Changes alarm={alarm} />
          <AlarmActs alarm={alarm} />
        </div>
      )}
    </details>
  )
}
