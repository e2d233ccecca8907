import type { Alarm } from '../../hub/api/schemas/alarm.ts'

const URGENCY = ['high', 'medium', 'low'] as const
const SEEN = ['unacknowledged', 'returned', 'acknowledged', 'normal'] as const

/** Order of alarms of which the first is shown alone: how urgent, then whether nobody has seen it, then the newest. */
export function morePressing(
  a: Pick<Alarm, 'priority' | 'state' | 'raisedAt'>,
  b: Pick<Alarm, 'priority' | 'state' | 'raisedAt'>,
): number {
  return (
    URGENCY.indexOf(a.priority) - URGENCY.indexOf(b.priority) ||
    SEEN.indexOf(a.state) - SEEN.indexOf(b.state) ||
    b.raisedAt - a.raisedAt
  )
}
