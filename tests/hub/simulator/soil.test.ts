import { expect, test } from 'vitest'
import { DAY, HOUR, SECOND } from '#hub/model/clock.ts'
import { dryContactBias, electrode, emfOf, nernstSlope } from '#hub/simulator/electrode.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { eventChange, responseShare } from '#hub/simulator/soil.ts'

test('the slope of an ideal electrode is the printed one', () => {
  // Table of the theoretical slope, mV per pH (all-about-pH.com, as kept in the project's references).
  for (const [celsius, mv] of [
    [0, 54.2],
    [10, 56.18],
    [20, 58.17],
    [25, 59.16],
    [30, 60.15],
    [40, 62.14],
  ] as const) {
    expect(Math.abs(nernstSlope(celsius) - mv)).toBeLessThan(0.01)
  }
})

test('EMF and pH follow the Nernst equation written out', () => {
  // E = E0 - share ln(10) R T / F (pH - 7), R and F of the 2019 SI.
  const perPhMv = (1000 * Math.LN10 * 8.314462618 * (12.5 + 273.15)) / 96485.33212
  const one = { zeroMv: -6, slopeShare: 0.95 }
  expect(emfOf(one, 5.2, 12.5)).toBeCloseTo(-6 + 0.95 * perPhMv * 1.8, 3)
  expect(emfOf(one, 7, 30)).toBe(-6)
  expect(emfOf(one, 8, 12.5)).toBeLessThan(emfOf(one, 6, 12.5))
})

test('a service brings the zero point back and the slope fades on', () => {
  const start = Date.UTC(2026, 0, 1)
  const service = start + 90 * DAY
  const glass = electrode(
    {
      zeroMv: 3,
      slopeShare: 0.98,
      slopeLossPerYear: 0.02,
      driftPh: 0.1,
      driftSpreadPh: 0,
      temperaturePhPerC: 0,
    },
    [start, service],
    seededRandom(4),
  )
  const error = (at: number): number => (3 - glass.stateAt(at).zeroMv) / nernstSlope(20)
  // 0.1 pH in 30 days, to which a cleaning adds 0.03 at random.
  expect(error(service - 1) - error(start)).toBeCloseTo(0.3, 6)
  expect(Math.abs(error(service))).toBeLessThan(0.12)
  expect(glass.stateAt(start + 365 * DAY).slopeShare).toBeCloseTo(0.96, 9)
  expect(Math.abs(glass.settlingAt(service + 3 * DAY))).toBeLessThan(
    Math.abs(glass.settlingAt(service + HOUR)) / 100,
  )
})

test('poor contact pulls a pH down in dry soil only', () => {
  expect(dryContactBias(0.4, 1.2)).toBe(0)
  expect(dryContactBias(1.3, 1.2)).toBe(0)
  expect(dryContactBias(0, 1.2)).toBeCloseTo(-1.2, 12)
  expect(dryContactBias(-0.1, 1.2)).toBeCloseTo(-1.2, 12)
  expect(dryContactBias(0.2, 1.2)).toBeLessThan(dryContactBias(0.3, 1.2))
})

test('an amendment rises to its peak of one and returns with its half-life', () => {
  const response = { peakPh: 0.8, lagDays: 10, riseHalfDays: 30, returnHalfDays: 700 }
  expect(responseShare(response, 10)).toBe(0)
  const days = Array.from({ length: 6000 }, (_, d) => responseShare(response, d))
  const peak = Math.max(...days)
  expect(peak).toBeCloseTo(1, 4)
  // Time of the peak of a difference of exponentials: ln(kr / kd) / (kr - kd).
  const kr = Math.LN2 / 30
  const kd = Math.LN2 / 700
  const peakDay = 10 + Math.log(kr / kd) / (kr - kd)
  expect(Math.abs(days.indexOf(peak) - peakDay)).toBeLessThan(2)
  // Long after the rise only the return is left.
  expect(days[4000 + 700]! / days[4000]!).toBeCloseTo(0.5, 6)
})

test('an event ramps up, stays and slowly goes', () => {
  const event = { bed: 'heron', at: 1000, changePh: 1.5, rampMs: 25 * SECOND, returnHalfDays: 400 }
  expect(eventChange(event, 1000)).toBe(0)
  expect(eventChange(event, 1000 + 12.5 * SECOND)).toBeCloseTo(0.75, 9)
  expect(eventChange(event, 1000 + 25 * SECOND)).toBeCloseTo(1.5, 9)
  expect(eventChange(event, 1000 + DAY)).toBeGreaterThan(1.49)
  expect(eventChange(event, 1000 + 25 * SECOND + 400 * DAY)).toBeCloseTo(0.75, 9)
})
