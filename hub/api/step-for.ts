import { DAY, HOUR } from '../model/clock.ts'
import type { Step } from '../model/series.ts'

/** So many points are asked for by those who want every reading. */
const EVERY_READING = 2500
const MOST_RAW = 35 * DAY

/** The finest step that is worth reading for so many points: raw for days, hours for a year, days beyond. */
export function stepFor(from: number, to: number, points: number): Step {
  const range = to - from
  if (range <= (points >= EVERY_READING ? MOST_RAW : 3 * DAY)) return 'raw'
  if (range <= 400 * DAY && range / HOUR <= points * 40) return 'hour'
  return 'day'
}
