import { Fragment } from 'preact'
import type { Alarm } from '../../../../hub/api/schemas/alarm.ts'
import { evidenceRows, HUB_PART_WORDS } from '../../alarm-words.ts'
import { rangeSearch } from '../../chart/range-address.ts'
import { ALARM_CHARTS } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { Link } from '../link.tsx'

/** So much of the chart is shown around the moment an alarm was raised. */
const AROUND_MS = 7 * 86_400_000

/** What an alarm rests on: figures with their doubt, where it is, and the chart at that time. */
export function Evidence({ alarm }: { alarm: Alarm }) {
  const { garden } = useHub()
  const { bedId, bed, subject, kind } = alarm
  const about = alarm.evidence.since ?? alarm.raisedAt
  const zoom = { from: about - AROUND_MS, to: alarm.raisedAt + AROUND_MS }
  return (
    <>
      <dl class="facts">
        {bedId !== null && (
          <>
            <dt>{say`Bed`}</dt>
            <dd>
              <Link to={{ page: 'bed', id: bedId }}>{bed}</Link>
            </dd>
          </>
        )}
        {kind === 'hub-trouble' && (
          <>
            <dt>{say`Part of the hub`}</dt>
            <dd>{said(HUB_PART_WORDS[subject] ?? subject)}</dd>
          </>
        )}
        {kind !== 'hub-trouble' && subject !== '' && (
          <>
            <dt>{say`Probe`}</dt>
            <dd>
              <Link to={{ page: 'probe', id: subject }} class="id">
                {subject}
              </Link>
            </dd>
          </>
        )}
        {evidenceRows(alarm, garden).map(([name, value]) => (
          <Fragment key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </Fragment>
        ))}
      </dl>
      {bedId !== null && ALARM_CHARTS[kind] !== null && (
        <p>
          <a href={`/bed/${bedId}${rangeSearch({ name: 'month', zoom }, garden.zone)}`}>
            {say`Show the chart of ${bed ?? ''} at that time`}
          </a>
        </p>
      )}
    </>
  )
}
