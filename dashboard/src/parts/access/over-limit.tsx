import type { ProbeView } from '../../../../hub/api/schemas/probe.ts'
import { dateTime } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'
import { say } from '../../say.ts'

/** Stands on a probe that sends more than it may. */
export function OverLimit({ probe }: { probe: ProbeView }) {
  const { garden } = useHub()
  const over = probe.access.overLimit
  if (over === null) return null
  const last = dateTime(over.lastAt, garden)
  return (
    <div class="strip probe-check waits" role="status" data-over-limit={probe.id}>
      <div>
        <p class="strip-head">
          <strong>{say`${probe.name} sends too much`}</strong>
          <span> · {say`since ${dateTime(over.since, garden)}`}</span>
        </p>
        <p class="sentence">
          {over.refused === 1
            ? say`One message was over the limit of one a second and not taken, the last ${last}.`
            : say`${over.refused} messages were over the limit of one a second and not taken, the last ${last}.`}{' '}
          {say`What the probe still holds it can send again.`}
        </p>
        <p class="advice">{say`A firmware that keeps to the specification never gets here: look for a loop without a pause, or a reset that comes again and again. The notice goes an hour after the last message that was too much.`}</p>
      </div>
    </div>
  )
}
