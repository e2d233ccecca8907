import type { ProbeView } from '../../../hub/api/schemas/probe.ts'
import { api } from '../api.ts'
import { age, dateTime } from '../format.ts'
import { useHub, useNow } from '../hub-context.tsx'
import { say, toSay } from '../say.ts'
import { saying } from '../saying.ts'
import { go } from '../use-route.ts'
import { FormProblem, useSend } from './field.tsx'

/** A probe the hub does not know yet: its readings are kept, it can be taken in. */
export function StrangerStrip({ probe }: { probe: ProbeView }) {
  const { garden, refresh } = useHub()
  const now = useNow()
  const { problem, busy, send } = useSend()
  return (
    <div class="strip stranger" data-stranger={probe.id}>
      <div>
        <p class="sentence">
          {saying(
            toSay('{0} has been sending since {1}, last {2}.'),
            <strong class="id">{probe.id}</strong>,
            dateTime(probe.firstSeenAt, garden),
            age(probe.lastSeenAt, now),
          )}{' '}
          {say`Its readings are kept aside until you take it in.`}
        </p>
        <FormProblem problem={problem} fields={[]} />
      </div>
      <button
        data-needs="change"
        type="button"
        aria-disabled={busy}
        onClick={() =>
          send(async () => {
            await api.saveProbe(probe.id, '')
            await refresh('probes', 'beds')
            go({ page: 'probe', id: probe.id })
          })
        }
      >{say`Take it in`}</button>
    </div>
  )
}
