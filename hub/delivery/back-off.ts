import { DAY, HOUR, SECOND } from '../model/clock.ts'

const FIRST_MS = 30 * SECOND
const LONGEST_MS = HOUR
/** A message that could not be sent for so long is given up: it is no news any more. */
export const GIVE_UP_MS = 3 * DAY

/**
 * How long to wait after so many tries that failed, ms: twice as long each time up to an hour, of which chance takes
 * off up to half, so that many hubs do not come back to one server in the same second.
 *
 * @param tries from 1
 * @param random from 0 to below 1
 */
export function backOff(tries: number, random: () => number): number {
  const whole = Math.min(LONGEST_MS, FIRST_MS * 2 ** Math.min(tries - 1, 20))
  return Math.round(whole * (1 - random() / 2))
}
