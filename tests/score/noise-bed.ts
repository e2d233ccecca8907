import { seededRandom } from '#hub/simulator/random.ts'
import type { Recorded } from './bed-input.ts'

/** Hourly noise of the row that is looked at: standard deviation, and what is kept from hour to hour. */
const NOISE = { sd: 0.12, keep: 0.9 } as const

/** One spot in moist soil of even temperature whose pH is first-order Gaussian noise about 6.5, hour by hour. */
export function noiseBed(seed: number, days: number): Recorded {
  const random = seededRandom(seed)
  const fresh = NOISE.sd * Math.sqrt(1 - NOISE.keep ** 2)
  const samples = days * 96
  const ph = new Float64Array(samples)
  const moisture = new Float64Array(samples)
  const temperatureC = new Float64Array(samples)
  let value = random.normal(0, NOISE.sd)
  for (let i = 0; i < samples; i++) {
    if (i % 4 === 0) value = NOISE.keep * value + random.normal(0, fresh)
    // Spread evenly about the hour's value: its median is that value, and nothing stands still.
    ph[i] = 6.5 + value + ((i % 4) - 1.5) * 0.004
    moisture[i] = 0.27 + random.normal(0, 0.002)
    temperatureC[i] = 15 + random.normal(0, 0.1)
  }
  return {
    startMs: Date.UTC(2024, 0, 1),
    days,
    resolutionPh: 0.001,
    texture: 'loam',
    events: [],
    visits: [],
    spots: [{ ph, moisture, temperatureC }],
  }
}
