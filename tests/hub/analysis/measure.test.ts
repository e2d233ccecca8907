import { expect, test } from 'vitest'
import { checkCalibration } from '#hub/analysis/measure/check-calibration.ts'
import { electrodeLine, electrodePh, readableLine } from '#hub/analysis/measure/electrode.ts'
import { relativeMoisture } from '#hub/analysis/measure/moisture.ts'
import { nernstSlope } from '#hub/analysis/measure/nernst.ts'
import { spotHistory } from '#hub/analysis/measure/spot-history.ts'
import type { ElectrodeCalibration, MoistureCalibration, NewCalibration } from '#hub/model/probe.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { SpotFeed } from '#hub/model/feed.ts'
import { NOW, channel, electrode, rawBuckets } from './case.ts'

/** Theoretical slopes as printed at all-about-ph.com, "pH temperature compensation", 2010. */
test.each([
  [0, 54.2],
  [10, 56.18],
  [20, 58.17],
  [25, 59.16],
  [30, 60.15],
  [40, 62.14],
  [50, 64.12],
])('Nernst slope at %d degrees is %d mV', (temperature, mv) => {
  expect(Math.abs(nernstSlope(temperature) - mv)).toBeLessThanOrEqual(0.01)
})

const twoPoint = (mv7: number, mv4: number): NewCalibration => ({
  kind: 'electrode',
  probe: 'p1x',
  channel: 'phmv',
  at: 0,
  points: [
    { ph: 7, emfMv: mv7 },
    { ph: 4, emfMv: mv4 },
  ],
  temperatureC: 25,
  note: '',
})

test('electrode acceptance: two electrodes worked in "How to calculate offset and slope"', () => {
  const first = checkCalibration(twoPoint(-15, 160))
  expect(Math.abs(first.slopePercent! - 98.6)).toBeLessThanOrEqual(0.15)
  expect(first.offsetMv).toBeCloseTo(-15, 9)
  expect(first.verdict).toBe('good')
  const second = checkCalibration(twoPoint(15, 160))
  expect(Math.abs(second.slopePercent! - 81.7)).toBeLessThanOrEqual(0.15)
  expect(second.offsetMv).toBeCloseTo(15, 9)
  expect(second.verdict).toBe('reject')
})

test.each([
  ['a weak slope is usable', twoPoint(0, 0.9 * 3 * 59.16), 'usable', /Repeat it soon/],
  ['an offset beyond 30 mV', twoPoint(31, 31 + 3 * 59.16), 'reject', /30 mV/],
  ['swapped buffers', twoPoint(177, 0), 'reject', /swapped/],
  [
    'one buffer twice',
    {
      ...twoPoint(0, 0),
      points: [
        { ph: 7, emfMv: 0 },
        { ph: 7, emfMv: 1 },
      ],
    } as NewCalibration,
    'reject',
    /same/,
  ],
  [
    'buffers too near',
    {
      ...twoPoint(0, 0),
      points: [
        { ph: 7, emfMv: 0 },
        { ph: 6, emfMv: 59 },
      ],
    } as NewCalibration,
    'reject',
    /1\.00 pH apart/,
  ],
  [
    'moisture points too near',
    { kind: 'moisture', probe: 'p1x', channel: 'm1', at: 0, dryRaw: 2000, wetRaw: 1950, note: '' },
    'reject',
    /50 counts/,
  ],
  [
    'moisture points far apart',
    { kind: 'moisture', probe: 'p1x', channel: 'm1', at: 0, dryRaw: 2900, wetRaw: 1200, note: '' },
    'good',
    /1700 counts/,
  ],
] as const)('%s', (_, calibration, verdict, sentence) => {
  const check = checkCalibration(calibration)
  expect(check.verdict).toBe(verdict)
  expect(check.sentence).toMatch(sentence)
})

test('pH and EMF turn into each other at any temperature; pH 7 does not depend on it', () => {
  const calibration = electrode('p1x', 0, { slope: 0.96, offsetMv: 12, temperatureC: 18 })
  const line = electrodeLine(calibration as ElectrodeCalibration)
  expect(line.slopeFraction).toBeCloseTo(0.96, 9)
  expect(line.offsetMv).toBeCloseTo(12, 9)
  for (const t of [3, 18, 35]) {
    expect(electrodePh(line, 12, t)).toBeCloseTo(7, 9)
    expect(electrodePh(line, 12 - 0.96 * nernstSlope(t) * (5.4 - 7), t)).toBeCloseTo(5.4, 9)
  }
  expect(electrodePh(line, NaN, 20)).toBeNaN()
})

test('points that make no line leave the ideal electrode, marked uncalibrated', () => {
  expect(readableLine(null).calibrated).toBe(false)
  const bad = electrode('p1x', 0, { slope: 0.2 }) as ElectrodeCalibration
  expect(readableLine(bad)).toEqual({ slopeFraction: 1, offsetMv: 0, calibrated: false })
})

test('moisture between its two points, whichever way the counts run', () => {
  const points = (dryRaw: number, wetRaw: number): MoistureCalibration => ({
    kind: 'moisture',
    id: 1,
    probe: 'p1x',
    channel: 'm1',
    at: 0,
    dryRaw,
    wetRaw,
    note: '',
  })
  expect(relativeMoisture(points(3000, 1000), 2000)).toBe(0.5)
  expect(relativeMoisture(points(1000, 3000), 1500)).toBe(0.25)
  expect(relativeMoisture(points(3000, 1000), 4000)).toBe(0)
  expect(relativeMoisture(points(3000, 1000), 500)).toBe(1)
  expect(relativeMoisture(points(2000, 2000), 500)).toBeNaN()
  expect(relativeMoisture(null, 500)).toBeNaN()
})

function emfFeed(times: readonly number[], change: Partial<SpotFeed> = {}): SpotFeed {
  const emf = -nernstSlope(20) * (6 - 7)
  return {
    spot: { id: 1, bedId: 1, name: 'north' },
    probe: 'p1x',
    from: 0,
    to: NOW,
    channels: [
      {
        channel: channel('p1x', 'phmv', 'ph.emf', { unit: 'mV' }),
        buckets: rawBuckets(times.map((at) => ({ at, value: emf }))),
      },
    ],
    calibrations: [],
    ...change,
  }
}

test('each row is read by the calibration in force at its time; a later one changes nothing before', () => {
  const times = [0, 1, 2, 3].map((day) => NOW + day * DAY)
  const calibrations = [
    electrode('p1x', NOW + 2 * DAY, { offsetMv: 29, id: 2 }),
    electrode('p1x', NOW + DAY, { offsetMv: 5.8, id: 1 }),
  ]
  const history = spotHistory(emfFeed(times, { calibrations }), 'raw')
  const shift = (mv: number): number => 6 + mv / nernstSlope(20)
  expect(history.ph[0]).toBeCloseTo(6, 9)
  expect(history.ph[1]).toBeCloseTo(shift(5.8), 9)
  expect(history.ph[2]).toBeCloseTo(shift(29), 9)
  expect(history.ph[3]).toBeCloseTo(shift(29), 9)
  expect(Array.from(history.uncalibrated)).toEqual([1, 0, 0, 0])
  const earlier = spotHistory(emfFeed(times, { calibrations: calibrations.slice(1) }), 'raw')
  expect(earlier.ph.subarray(0, 2)).toEqual(history.ph.subarray(0, 2))
})

test('temperature: nearest within six hours, else the last known, else 20 degrees', () => {
  const base = emfFeed([])
  const times = [0, 10, 13, 40].map((h) => NOW + h * HOUR)
  const feed: SpotFeed = {
    ...base,
    channels: [
      ...emfFeed(times).channels,
      {
        channel: channel('p1x', 'st', 'temp.soil', { unit: 'Cel' }),
        buckets: rawBuckets([{ at: NOW + 15 * HOUR, value: 8 }]),
      },
    ],
  }
  const history = spotHistory(feed, 'raw')
  const ph = (t: number): number => 7 - nernstSlope(20) / nernstSlope(t)
  expect(Array.from(history.time)).toEqual([0, 10, 13, 15, 40].map((h) => NOW + h * HOUR))
  expect(history.ph[0]).toBeCloseTo(ph(20), 9)
  expect(history.ph[1]).toBeCloseTo(ph(8), 9)
  expect(history.ph[2]).toBeCloseTo(ph(8), 9)
  expect(history.ph[3]).toBeNaN()
  expect(history.ph[4]).toBeCloseTo(ph(8), 9)
})

test('the probe’s own pH counts only when it sends no EMF; volts and kelvin are understood', () => {
  const own = {
    channel: channel('p1x', 'ph', 'ph', { unit: 'pH', from: 'phmv' }),
    buckets: rawBuckets([{ at: NOW, value: 9 }]),
  }
  const both = emfFeed([NOW])
  expect(spotHistory({ ...both, channels: [own, ...both.channels] }, 'raw').ph[0]).toBeCloseTo(6, 9)
  const alone = spotHistory({ ...both, channels: [own] }, 'raw')
  expect(alone.ph[0]).toBe(9)
  expect(alone.uncalibrated[0]).toBe(0)
  const volts = {
    channel: channel('p1x', 'phmv', 'ph.emf', { unit: 'V' }),
    buckets: rawBuckets([{ at: NOW, value: nernstSlope(20) / 1000 }]),
  }
  expect(spotHistory({ ...both, channels: [volts] }, 'raw').ph[0]).toBeCloseTo(6, 9)
})

test('readings out of order and twice give the same history', () => {
  const times = Array.from({ length: 20 }, (_, i) => NOW + i * 15 * MINUTE)
  const mixed = [...times.slice(10), ...times.slice(0, 12), times[3]!]
  const plain = spotHistory(emfFeed(times), 'raw')
  const again = spotHistory(emfFeed(mixed), 'raw')
  expect(again.time).toEqual(plain.time)
  expect(again.ph).toEqual(plain.ph)
})
