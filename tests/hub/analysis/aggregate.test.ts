import fc from 'fast-check'
import { expect, test } from 'vitest'
import { normalCdf, studentQuantile, Z } from '#hub/analysis/stats/distributions.ts'
import { bedHistory } from '#hub/analysis/aggregate/history.ts'
import { mad } from '#hub/analysis/stats/mad.ts'
import { median } from '#hub/analysis/stats/median.ts'
import { robustMean } from '#hub/analysis/aggregate/robust-mean.ts'
import { spotOffsets } from '#hub/analysis/aggregate/spot-offsets.ts'
import { SPREAD } from '#hub/analysis/aggregate/spread.ts'
import type { BedHistory } from '#hub/analysis/assessment.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { BedFeeds } from '#hub/model/feed.ts'
import type { Step } from '#hub/model/series.ts'
import { seededRandom } from '#tests/support/random.ts'
import { NOW, type ProbeRows, bed, feed, normal } from './case.ts'

const phs = fc.array(fc.double({ min: 4, max: 8.5, noNaN: true }), { minLength: 1, maxLength: 6 })

/** Student's t, two-sided 95 %, as tabled in any handbook of statistics (values from memory). */
test.each([
  [8, 2.306],
  [9, 2.262],
  [10, 2.228],
  [11, 2.201],
  [20, 2.086],
])('t for %d degrees of freedom', (freedom, t) => {
  expect(Math.abs(studentQuantile(Z.two95, freedom) - t)).toBeLessThan(0.001)
})

test('the normal distribution function (tabled values, from memory)', () => {
  expect(normalCdf(0)).toBeCloseTo(0.5, 7)
  expect(normalCdf(1)).toBeCloseTo(0.8413447, 6)
  expect(normalCdf(-1.959964)).toBeCloseTo(0.025, 6)
})

test('median and spread', () => {
  expect(median([3, 1, 2])).toBe(2)
  expect(median([4, 1, NaN, 3, 2])).toBe(2.5)
  expect(median([])).toBeNaN()
  expect(mad([1, 2, 3, 4, 100])).toBeCloseTo(1.4826, 9)
})

test('pH is averaged as pH: 5.2, 5.4 and 5.9 give 5.50, not the 5.41 of hydrogen ions', () => {
  // R. H. Giles, Virginia Tech, "Statistical analysis of pH values obtained from wildlands".
  const values = [5.2, 5.4, 5.9]
  const ions = -Math.log10(values.reduce((sum, ph) => sum + 10 ** -ph, 0) / 3)
  expect(Math.abs(ions - 5.41)).toBeLessThanOrEqual(0.005)
  const { value } = robustMean(values, { scale: 1, variance: SPREAD.ph.variance })
  expect(Math.abs(value - 5.5)).toBeLessThanOrEqual(0.005)
})

test('adding a constant to all spots moves the bed value by it and leaves the interval', () => {
  fc.assert(
    fc.property(phs, fc.double({ min: -2, max: 2, noNaN: true }), (values, by) => {
      const before = robustMean(values, SPREAD.ph)
      const after = robustMean(
        values.map((v) => v + by),
        SPREAD.ph,
      )
      expect(after.value).toBeCloseTo(before.value + by, 6)
      if (before.disagree === after.disagree)
        expect(after.halfWidth).toBeCloseTo(before.halfWidth, 5)
    }),
  )
})

test('the order of the spots changes nothing, and the value lies among them', () => {
  fc.assert(
    fc.property(phs, (values) => {
      const one = robustMean(values, SPREAD.ph)
      const other = robustMean(values.toReversed(), SPREAD.ph)
      expect(other.value).toBeCloseTo(one.value, 6)
      expect(one.value).toBeGreaterThanOrEqual(Math.min(...values) - 1e-9)
      expect(one.value).toBeLessThanOrEqual(Math.max(...values) + 1e-9)
      expect(one.halfWidth).toBeGreaterThan(0)
    }),
  )
})

test('a lone bad spot of three moves the bed value by less than 0.15', () => {
  fc.assert(
    fc.property(
      fc.double({ min: 5, max: 7.5, noNaN: true }),
      fc.double({ min: -0.1, max: 0.1, noNaN: true }),
      fc.double({ min: -4, max: 4, noNaN: true }),
      (level, apart, fault) => {
        const good = robustMean([level, level + apart, level], SPREAD.ph).value
        const bad = robustMean([level, level + apart, level + fault], SPREAD.ph).value
        expect(Math.abs(bad - good)).toBeLessThan(0.15)
      },
    ),
  )
})

test('two spots more than 0.6 apart are not averaged blindly: the interval spans both', () => {
  const { value, halfWidth, disagree } = robustMean([5.5, 6.5], SPREAD.ph)
  expect(disagree).toBe(true)
  expect(value - halfWidth).toBeLessThan(5.3)
  expect(value + halfWidth).toBeGreaterThan(6.7)
  expect(robustMean([6, 6.5], SPREAD.ph).disagree).toBe(false)
})

test('intervals of good spots cover the truth about as often as they say', () => {
  const random = seededRandom(11)
  for (const n of [1, 2, 3, 4]) {
    let covered = 0
    for (let run = 0; run < 2000; run++) {
      const { value, halfWidth } = robustMean(
        Array.from({ length: n }, () => 6 + 0.15 * normal(random)),
        SPREAD.ph,
      )
      if (Math.abs(value - 6) <= halfWidth) covered++
    }
    expect(covered / 2000, `${n} spots`).toBeGreaterThan(0.94)
    expect(covered / 2000, `${n} spots`).toBeLessThan(0.995)
  }
})

test('offsets are learned slowly, centred, and an unseen spot has none', () => {
  const rows = 40
  const column = (value: number): Float64Array => new Float64Array(rows).fill(value)
  const offsets = spotOffsets([column(6), column(6.3), column(6.6), column(NaN)], DAY)
  expect(offsets[0]).toBeCloseTo(-0.24, 6)
  expect(offsets[1]).toBeCloseTo(0, 6)
  expect(offsets[2]).toBeCloseTo(0.24, 6)
  expect(offsets[3]).toBe(0)
})

function feeds(probes: readonly ProbeRows[], step: Step, from: number, to: number): BedFeeds {
  const names = Array.from(new Set(probes.map(({ spot }) => spot)))
  const spots = names.map((name, i) => ({ id: i + 1, bedId: 1, name }))
  return {
    bed: bed(),
    spots,
    from,
    to,
    step,
    feeds: probes.map((p, i) => feed(p, i, spots, step, from, to)),
  }
}

const rowsOf = (hours: number, everyMs: number, value: (at: number, i: number) => number) =>
  Array.from({ length: (hours * HOUR) / everyMs }, (_, i) => {
    const at = NOW - hours * HOUR + i * everyMs
    return { at, value: value(at, i) }
  })

function threeSpots(hours: number, everyMs: number): ProbeRows[] {
  const random = seededRandom(21)
  return ['north', 'middle', 'south'].map((spot, s) => ({
    spot,
    ph: rowsOf(hours, everyMs, () => 6 + 0.3 * (s - 1) + 0.03 * normal(random)),
  }))
}

const finite = (column: Float64Array): number[] => Array.from(column).filter(Number.isFinite)

test('hours are merged in whole hours to about the points asked for', () => {
  const hours = 24 * 180
  const probes = threeSpots(hours, HOUR)
  const history = bedHistory(feeds(probes, 'hour', NOW - hours * HOUR, NOW), 'ph', { points: 600 })
  expect(history.stepMs % HOUR).toBe(0)
  expect(history.time.length).toBeGreaterThan(400)
  expect(history.time.length).toBeLessThanOrEqual(602)
  expect(history.time[1]! - history.time[0]!).toBe(history.stepMs)
  for (const name of ['value', 'low', 'high', 'min', 'max'] as const) {
    expect(history[name]).toHaveLength(history.time.length)
  }
  for (const [i, value] of history.value.entries()) {
    expect(Math.abs(value - 6)).toBeLessThan(0.1)
    expect(history.low[i]).toBeLessThan(value)
    expect(history.high[i]).toBeGreaterThan(value)
    expect(history.min[i]).toBeLessThan(5.75)
    expect(history.max[i]).toBeGreaterThan(6.25)
  }
  expect(history.spots.map(({ spot }) => spot)).toEqual(['north', 'middle', 'south'])
})

test('raw readings of spots that report at different seconds meet on one grid', () => {
  const probes = threeSpots(24, 15 * MINUTE).map((p, i) => ({
    ...p,
    ph: p.ph.map(({ at, value }) => ({ at: at + i * 97_000, value })),
  }))
  const history = bedHistory(feeds(probes, 'raw', NOW - DAY, NOW + HOUR), 'ph', { points: 600 })
  expect(history.stepMs).toBe(15 * MINUTE)
  for (const { value } of history.spots) expect(finite(value).length).toBeGreaterThanOrEqual(95)
  expect(finite(history.value).every((v) => Math.abs(v - 6) < 0.15)).toBe(true)
})

test('minutes of quick readings at the end do not tear a day of slow ones apart', () => {
  const quick = (level: number) =>
    Array.from({ length: 60 }, (_, i) => ({ at: NOW + i * 10_000, value: level }))
  const probes = threeSpots(24, 15 * MINUTE).map((p, i) => ({
    ...p,
    ph: [
      // Half a day of silence is no interval either.
      ...p.ph
        .filter((_, k) => k < 40 || k > 88)
        .map(({ at, value }) => ({ at: at + i * 97_000, value })),
      ...quick(6),
    ],
  }))
  const { stepMs } = bedHistory(feeds(probes, 'raw', NOW - DAY, NOW + HOUR), 'ph', { points: 600 })
  expect(stepMs).toBe(15 * MINUTE)
})

test('a spot that falls silent does not make the bed value jump', () => {
  const hours = 24 * 60
  const probes = threeSpots(hours, HOUR)
  const cut = probes.map((p, i) => (i === 2 ? { ...p, ph: p.ph.slice(0, -24 * 10) } : p))
  const { value } = bedHistory(feeds(cut, 'hour', NOW - hours * HOUR, NOW), 'ph', { points: 5000 })
  const before = median(value.subarray(-24 * 15, -24 * 10))
  const after = median(value.subarray(-24 * 10))
  expect(Math.abs(after - before), 'without learned offsets it would be 0.15').toBeLessThan(0.05)
})

test('the order of probes and a reading heard twice change nothing', () => {
  const probes = threeSpots(24 * 20, HOUR)
  const range = [NOW - 20 * DAY, NOW] as const
  const same = (a: BedHistory, b: BedHistory): void => {
    expect(b.time).toEqual(a.time)
    for (const [i, v] of a.value.entries()) expect(b.value[i]).toBeCloseTo(v, 9)
  }
  const one = bedHistory(feeds(probes, 'raw', ...range), 'ph', { points: 600 })
  same(one, bedHistory(feeds(probes.toReversed(), 'raw', ...range), 'ph', { points: 600 }))
  const twice = probes.map((p) => ({ ...p, ph: [...p.ph, ...p.ph.slice(5, 50)] }))
  same(one, bedHistory(feeds(twice, 'raw', ...range), 'ph', { points: 600 }))
  const both = [...probes, { ...probes[0]!, probe: 'twin' }]
  same(one, bedHistory(feeds(both, 'raw', ...range), 'ph', { points: 600 }))
})

test('what does not count is shown as left out and stays out of the bed value', () => {
  const probes = threeSpots(48, HOUR).map((p, i) =>
    i === 1 ? { ...p, ph: p.ph.map((row) => ({ ...row, value: 13 })) } : p,
  )
  const history = bedHistory(feeds(probes, 'hour', NOW - 2 * DAY, NOW), 'ph', { points: 600 })
  expect(Array.from(history.spots[1]!.leftOut).every((flag) => flag === 1)).toBe(true)
  expect(Array.from(history.spots[0]!.leftOut).some((flag) => flag === 1)).toBe(false)
  expect(finite(history.max).every((v) => v < 7)).toBe(true)
  expect(finite(history.value).every((v) => Math.abs(v - 6) < 0.2)).toBe(true)
})

test('moisture and temperature have their histories, and nothing gives empty columns', () => {
  const probes: ProbeRows[] = [
    {
      spot: 'north',
      ph: [],
      temperature: rowsOf(48, HOUR, () => 17),
      moisture: rowsOf(48, HOUR, () => 0.3),
    },
  ]
  const of = feeds(probes, 'hour', NOW - 2 * DAY, NOW)
  expect(finite(bedHistory(of, 'temperature', { points: 50 }).value)).toSatisfy((v: number[]) =>
    v.every((x) => x === 17),
  )
  expect(median(bedHistory(of, 'moisture', { points: 50 }).value)).toBeCloseTo(0.3, 9)
  expect(finite(bedHistory(of, 'ph', { points: 50 }).value)).toEqual([])
  const none = bedHistory(feeds([], 'hour', NOW - DAY, NOW), 'ph', { points: 50 })
  expect(none.time).toHaveLength(0)
  expect(none.spots).toEqual([])
})
