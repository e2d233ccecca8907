import { describe, expect, test } from 'vitest'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { demoScenario } from '#hub/simulator/demo-scenario.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { dampedWave, dampingDepth, weather } from '#hub/simulator/weather.ts'

const DIFFUSIVITY = 5e-7

test('damping depths of a moist loam lie where field measurements put them', () => {
  // d = sqrt(2 k / omega), Carslaw and Jaeger (from memory): 0.117 m by day, 2.24 m by year for 5e-7 m2/s.
  expect(dampingDepth(DIFFUSIVITY, DAY)).toBeCloseTo(0.117, 3)
  expect(dampingDepth(DIFFUSIVITY, 365.25 * DAY)).toBeCloseTo(2.24, 2)
  // Year over day is the square root of 365.25, whatever the soil.
  const ratio = dampingDepth(3e-7, 365.25 * DAY) / dampingDepth(3e-7, DAY)
  expect(ratio).toBeCloseTo(Math.sqrt(365.25), 9)
})

/**
 * Temperature at a depth by explicit finite differences of the heat equation: a second way that knows
 * nothing of exponentials. Column of 1.5 m, held at 0 at the bottom, surface a sine of one day.
 */
function byFiniteDifferences(depthM: number, amplitude: number): number[] {
  const dz = 0.01
  const dt = 60
  const cells = 151
  const weight = (DIFFUSIVITY * dt) / (dz * dz)
  let column = new Float64Array(cells)
  const out: number[] = []
  const days = 12
  for (let step = 0; step < (days * 86_400) / dt; step++) {
    const next = new Float64Array(cells)
    next[0] = amplitude * Math.sin((2 * Math.PI * (step + 1) * dt) / 86_400)
    for (let i = 1; i < cells - 1; i++) {
      next[i] = column[i]! + weight * (column[i + 1]! - 2 * column[i]! + column[i - 1]!)
    }
    column = next
    const lastDay = (step + 1) * dt > (days - 1) * 86_400
    if (lastDay) out.push(column[Math.round(depthM / dz)]!)
  }
  return out
}

test.each([0.05, 0.15, 0.3])('the daily wave at %s m is that of the heat equation', (depthM) => {
  const amplitude = 5
  const numeric = byFiniteDifferences(depthM, amplitude)
  const depth = dampingDepth(DIFFUSIVITY, DAY)
  const analytic = numeric.map((_, i) =>
    dampedWave(amplitude, (2 * Math.PI * (i + 1) * 60) / 86_400, depthM, depth),
  )
  const worst = Math.max(...numeric.map((v, i) => Math.abs(v - analytic[i]!)))
  expect(worst).toBeLessThan(0.02)
  expect(Math.max(...analytic)).toBeCloseTo(amplitude * Math.exp(-depthM / depth), 2)
})

describe('weather of the demo climate', () => {
  const { climate, start, now } = demoScenario({ seed: 3, now: Date.UTC(2026, 10, 25) })
  const sky = weather(climate, start, seededRandom(3).split('weather'))
  const hours = Math.floor((now - start) / HOUR)

  test('deeper soil swings less within a day', () => {
    const swing = (depthM: number): number => {
      const day = Array.from({ length: 24 }, (_, h) =>
        sky.soilC(depthM, start + 200 * DAY + h * HOUR),
      )
      return Math.max(...day) - Math.min(...day)
    }
    expect(swing(0.05)).toBeGreaterThan(swing(0.15))
    expect(swing(0.15)).toBeGreaterThan(swing(0.4))
  })

  test('reference evapotranspiration of a day sums to the daily figure and is nil at night', () => {
    const [mean, swing] = climate.et0Mm
    for (let d = 0; d < 365; d += 30) {
      const first = d * 24
      const day = Array.from({ length: 24 }, (_, h) => sky.et0Mm(first + h))
      const sum = day.reduce((a, b) => a + b, 0)
      expect(sum).toBeGreaterThan(Math.max(0.3, mean - swing) * 0.97)
      expect(sum).toBeLessThan((mean + swing) * 1.03)
      // Hour 0 of the track is a whole UTC hour.
      const night = day[(24 - (new Date(start).getUTCHours() % 24) + 1) % 24]
      expect(night).toBeCloseTo(0, 12)
    }
  })

  test('rain comes on about the share of days its Markov chain settles at', () => {
    // Stationary share of wet days: a / (1 + a - b), a = P(wet | dry), b = P(wet | wet); over the year about
    // the mean of that at the seasons' ends, .36 and .036 here.
    let wet = 0
    const days = Math.floor(hours / 24)
    for (let d = 0; d < days; d++) {
      let sum = 0
      for (let h = 0; h < 24; h++) sum += sky.rainMm.hour(d * 24 + h)
      if (sum > 0) wet++
    }
    expect(wet / days).toBeGreaterThan(0.1)
    expect(wet / days).toBeLessThan(0.32)
  })
})
