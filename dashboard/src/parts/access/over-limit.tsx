import type { ProbeView } from '../../../../hub/api/schemas/probe.ts'
import { dateTime } from '../../format.ts'
import { useHub } from '../../hub-context.tsx'

/** Stands on a probe that sends more than it may. */
export function OverLimit({ probe }: { probe: ProbeView }) {
  const { garden } = useHub()
  const over = probe.access.overLimit
  if (over === null) return null
  const messages = over.refused === 1 ? 'One message was' : `${over.refused} messages were`
  return (
    <div class="strip probe-check waits" role="status" data-over-limit={probe.id}>
      <div>
        <p class="strip-head">
          <strong>{probe.name} sends too much</strong>
          <span> · since {dateTime(over.since, garden)}</span>
        </p>
        <p class="sentence">
          {messages} over the limit of one a second and not taken, the last{' '}
          {dateTime(over.lastAt, garden)}. What the probe still holds it can send again.
        </p>
        <p class="advice">
          A firmware that keeps to the specification never gets here: look for a loop without a
          pause, or a reset that comes again and again. The notice goes an hour after the last
          message that was too much.
        </p>
      </div>
    </div>
  )
}
