import type { EventView } from '../../hub/api/schemas/findings.ts'

/**
 * The corners of an event's sign about its middle, x and y within ±1, y upwards: a stair for a step, a slope
 * for a change over days; up or down as the pH went.
 */
export function eventCorners({ form, size }: Pick<EventView, 'form' | 'size'>): [number, number][] {
  const up = size < 0 ? -0.7 : 0.7
  const rise = form === 'step' ? 0 : 0.55
  return [
    [-1, -up],
    [-rise, -up],
    [rise, up],
    [1, up],
  ]
}
