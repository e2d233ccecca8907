import { useState } from 'preact/hooks'
import type { AlarmKind } from '../../../../hub/model/alarm.ts'
import { api } from '../../api.ts'
import { ALARM_WORDS } from '../../format.ts'
import { useHub, useLoad } from '../../hub-context.tsx'
import { said, say } from '../../say.ts'
import { Choice } from '../field.tsx'
import { AlarmEntry } from './alarm-entry.tsx'

/** So many are fetched at a time. */
const PAGE = 50
const ALL = 'all'
const DAY = 86_400_000

/** Alarms that are over, newest first, picked by kind, bed and age. */
export function PastAlarms() {
  const { beds, loaded, alarmTick, connection, aheadMs } = useHub()
  const [kind, setKind] = useState<string>(ALL)
  const [bed, setBed] = useState<string>(ALL)
  const [days, setDays] = useState<string>(ALL)
  const [limit, setLimit] = useState(PAGE)
  const { data, problem } = useLoad(
    loaded ? `past alarms ${kind} ${bed} ${days} ${limit}` : null,
    (signal) =>
      api.alarms(
        {
          over: true,
          limit,
          ...(kind === ALL ? {} : { kind: kind as AlarmKind }),
          ...(bed === ALL ? {} : { bed: Number(bed) }),
          ...(days === ALL ? {} : { from: Math.round(Date.now() + aheadMs - Number(days) * DAY) }),
        },
        signal,
      ),
    `${alarmTick} ${connection}`,
  )
  const all = { value: ALL, words: say`all` }
  return (
    <section class="sheet" aria-labelledby="past">
      <h2 id="past">{say`History`}</h2>
      <div class="alarm-filter">
        <Choice
          label={say`Kind`}
          value={kind}
          onChange={setKind}
          options={[
            all,
            ...Object.entries(ALARM_WORDS).map(([value, words]) => ({ value, words: said(words) })),
          ]}
        />
        <Choice
          label={say`Bed`}
          value={bed}
          onChange={setBed}
          options={[
            all,
            ...beds.map(({ id, name }) => ({ value: String(id), words: name })),
            { value: '0', words: say`no bed: hub and probes` },
          ]}
        />
        <Choice
          label={say`Raised`}
          value={days}
          onChange={setDays}
          options={[
            all,
            { value: '7', words: say`in the last week` },
            { value: '30', words: say`in the last 30 days` },
            { value: '365', words: say`in the last year` },
          ]}
        />
      </div>
      {data === null ? (
        problem === null ? (
          <p class="quiet-line">{say`Fetching the alarms …`}</p>
        ) : (
          <p class="error">{say`The alarms could not be fetched: ${problem.title}.`}</p>
        )
      ) : data.length === 0 ? (
        <p class="quiet-line">{say`No alarm of that kind is over.`}</p>
      ) : (
        data.map((alarm) => <AlarmEntry key={alarm.id} alarm={alarm} brief />)
      )}
      {data !== null && data.length === limit && limit < 1000 && (
        <button type="button" onClick={() => setLimit((n) => Math.min(1000, n + PAGE))}>
          {say`Show older ones`}
        </button>
      )}
    </section>
  )
}
