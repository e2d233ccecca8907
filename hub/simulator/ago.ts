import { DAY, HOUR } from '../model/clock.ts'
import { yearShare } from './weather.ts'

/** The given hour (UTC) of the day `days` days before `now`, epoch ms. With `days` of 1 or more it is past. */
export function ago(now: number, days: number, hour = 9): number {
  return (Math.floor(now / DAY) - days) * DAY + hour * HOUR
}

/** Days from the last passing of a day of the year, at least `atLeast` of them, to `now`. */
export function daysSinceDayOfYear(now: number, dayOfYear: number, atLeast: number): number {
  const days = Math.round((yearShare(now) - dayOfYear / 365) * 365)
  const passed = days < 0 ? days + 365 : days
  return passed < atLeast ? passed + 365 : passed
}
