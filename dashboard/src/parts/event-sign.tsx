import type { EventView } from '../../../hub/api/schemas/findings.ts'
import { eventCorners } from '../event-sign.ts'

/** The sign an event has on the chart: a stair or a slope, up or down. */
export function EventSign({ event }: { event: Pick<EventView, 'form' | 'size'> }) {
  const points = eventCorners(event)
    .map(([x, y]) => `${10 + 8 * x},${8 - 8 * y}`)
    .join(' ')
  return (
    <svg class="event-sign" viewBox="0 0 20 16" width="20" height="16" aria-hidden="true">
      <polyline points={points} />
    </svg>
  )
}
