import { HOUR } from '../model/clock.ts'
import type { Random } from './random.ts'

/**
 * A quantity stepped forward hour by hour from a start, kept, and extended when a later time is asked
 * for: what stands does not depend on how far or how often it was asked.
 */
export interface HourlyTrack {
  /** Linear between hours; before the start the first value. Epoch ms. */
  valueAt(at: number): number
  /** Value of the hour with this index, from 0; the index of a time is `hourOf`. */
  hour(index: number): number
  hourOf(at: number): number
}

/**
 * @param startMs epoch ms of hour 0
 * @param step value of an hour; called once per hour, in order
 */
export function hourlyTrack(startMs: number, step: (hour: number) => number): HourlyTrack {
  let values = new Float64Array(1024)
  let filled = 0
  const hour = (index: number): number => {
    if (index >= values.length) {
      const grown = new Float64Array(Math.max(index + 1, values.length * 2))
      grown.set(values)
      values = grown
    }
    while (filled <= index) {
      values[filled] = step(filled)
      filled++
    }
    return values[Math.max(0, index)]!
  }
  const hourOf = (at: number): number => Math.max(0, Math.floor((at - startMs) / HOUR))
  return {
    hour,
    hourOf,
    valueAt: (at) => {
      if (at <= startMs) return hour(0)
      const index = hourOf(at)
      const share = (at - startMs) / HOUR - index
      const next = hour(index + 1)
      return hour(index) * (1 - share) + next * share
    },
  }
}

/**
 * First-order autoregressive wander with a stationary standard deviation and a correlation time, hourly.
 * Starts from its stationary distribution.
 */
export function wander(
  startMs: number,
  random: Random,
  sd: number,
  correlationH: number,
): HourlyTrack {
  const keep = Math.exp(-1 / correlationH)
  const fresh = sd * Math.sqrt(1 - keep * keep)
  let value = random.normal(0, sd)
  return hourlyTrack(startMs, () => {
    const now = value
    value = keep * value + random.normal(0, fresh)
    return now
  })
}
