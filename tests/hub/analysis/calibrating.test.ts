import { describe, expect, test } from 'vitest'
import { BUFFER_SETS, bufferPh, buffersAt } from '#hub/agronomy/buffers.ts'
import { calibrationEffect } from '#hub/analysis/measure/calibration-effect.ts'
import { checkCalibration } from '#hub/analysis/measure/check-calibration.ts'
import { electrodeHealth, wetAndDry } from '#hub/analysis/measure/electrode-health.ts'
import { electrodeLine, residuals } from '#hub/analysis/measure/electrode.ts'
import { nernstSlope } from '#hub/analysis/measure/nernst.ts'
import { waterOfPermittivity } from '#hub/analysis/measure/permittivity.ts'
import { settling } from '#hub/analysis/measure/settling.ts'
import { soilLine } from '#hub/analysis/measure/soil-line.ts'
import { spotHistory } from '#hub/analysis/measure/spot-history.ts'
import { waterByWeight } from '#hub/analysis/measure/water-by-weight.ts'
import { watchHours } from '#hub/analysis/watch/watch-hours.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import type { SpotFeed } from '#hub/model/feed.ts'
import type { BufferPoint, ElectrodeCalibration, MoistureCalibration } from '#hub/model/probe.ts'
import { emptyBuckets } from '#hub/model/series.ts'
import { NOW, bed, channel } from './case.ts'

const electrode = (
  points: readonly [BufferPoint, BufferPoint, ...BufferPoint[]],
  change: Partial<ElectrodeCalibration> = {},
): ElectrodeCalibration => ({
  kind: 'electrode',
  id: 1,
  probe: 'p1x',
  channel: 'phmv',
  at: NOW - 10 * DAY,
  points,
  temperatureC: 25,
  note: '',
  ...change,
})
/** Points of an electrode with this slope and offset in these buffers at 25 degrees. */
const made = (
  slope: number,
  offsetMv: number,
  [a, b, ...more]: readonly [number, number, ...number[]],
): readonly [BufferPoint, BufferPoint, ...BufferPoint[]] => {
  const of = (ph: number): BufferPoint => ({
    ph,
    emfMv: offsetMv - slope * nernstSlope(25) * (ph - 7),
  })
  return [of(a), of(b), ...more.map(of)]
}

describe('buffers of one set at the measured temperature', () => {
  // TECHBUF: transmitter manual MI 611-211, tables 7 and 8; IUPAC2002 is recalled, JISZ8802 was read.
  test.each([
    ['technical', 20, [4, 7.02, 10.06]],
    ['technical', 18.2, [4, 7.0272, 10.0816]],
    ['iupac_2002', 25, [4.005, 6.865, 9.18, 10.012]],
    ['jis_z8802', 35, [4.02, 6.84, 9.1, 9.93]],
    // JIS gives no carbonate beyond 35 degrees: it is not offered there.
    ['jis_z8802', 40, [4.03, 6.84, 9.07]],
  ] as const)('%s at %d degrees', (id, temperatureC, expected) => {
    const set = BUFFER_SETS.find((one) => one.id === id)!
    const got = buffersAt(set, temperatureC).map(({ ph }) => ph)
    expect(got).toHaveLength(expected.length)
    for (const [i, ph] of expected.entries()) expect(got[i]).toBeCloseTo(ph, 9)
  })
  test('the wrong pick of a set is 0.135 pH at 25 degrees', () => {
    expect(bufferPh('technical', '7.00', 25) - bufferPh('iupac_2002', 'phosphate', 25)).toBeCloseTo(
      0.135,
      9,
    )
  })
})

describe('a third buffer', () => {
  test('of a true electrode lies on the line and is told so', () => {
    const three = electrode(made(0.96, 12, [7, 4, 10.01]))
    const line = electrodeLine(three)
    expect(line.slopeFraction).toBeCloseTo(0.96, 9)
    expect(line.offsetMv).toBeCloseTo(12, 9)
    for (const off of residuals(three)) expect(off).toBeCloseTo(0, 9)
    const check = checkCalibration(three)
    expect(check.verdict).toBe('good')
    expect(check.residualPh).toBeCloseTo(0, 9)
    expect(check.sentence).toMatch(/three buffers within 0\.00 pH of one line/)
  })
  test('the line is that of least squares, worked by hand', () => {
    // pH 4, 7, 10 at 180, 0, -174 mV: mean pH 7, mean 2 mV; slope = (3*178 + 3*176) / 18 = 59 mV per pH.
    const line = electrodeLine(
      electrode([
        { ph: 4, emfMv: 180 },
        { ph: 7, emfMv: 0 },
        { ph: 10, emfMv: -174 },
      ]),
    )
    expect(line.slopeFraction * nernstSlope(25)).toBeCloseTo(59, 9)
    expect(line.offsetMv).toBeCloseTo(2, 9)
  })
  test.each([
    [5, 'good'],
    // EPA 9045: a buffer should read within 0.05 pH.
    [15, 'usable'],
    [40, 'reject'],
  ] as const)('%d mV off', (by, verdict) => {
    const [a, b, c] = made(0.99, 0, [7, 4, 10])
    const check = checkCalibration(electrode([a, b, { ph: c!.ph, emfMv: c!.emfMv + by }]))
    expect(check.verdict).toBe(verdict)
    if (verdict !== 'good') expect(check.sentence).toMatch(/leave it out/)
  })
})

describe('settling', () => {
  const seen = (rows: readonly (readonly [s: number, value: number])[], unit: 'mV' | 'counts') =>
    settling(
      rows.map(([s]) => NOW + s * 1000),
      rows.map(([, value]) => value),
      { unit },
    )
  test('nothing, too few, moving, settled', () => {
    expect(seen([], 'mV').state).toBe('nothing')
    expect(seen([[0, NaN]], 'mV').state).toBe('nothing')
    expect(seen([[0, 10]], 'mV')).toMatchObject({ state: 'too few', value: 10, at: NOW })
    expect(
      seen(
        [
          [0, 10],
          [20, 14],
          [40, 16],
        ],
        'mV',
      ),
    ).toMatchObject({ state: 'moving', value: 16, readings: 1 })
    const settled = seen(
      [
        [0, 40],
        [10, 12.2],
        [25, 11.9],
        [45, 11.2],
      ],
      'mV',
    )
    expect(settled).toMatchObject({ state: 'settled', readings: 3, spanMs: 35_000 })
    expect(settled.value).toBeCloseTo((12.2 + 11.9 + 11.2) / 3, 9)
  })
  test('many readings in a moment are no proof', () => {
    const quick = Array.from({ length: 20 }, (_, i) => [i, 5] as const)
    expect(seen(quick, 'mV').state).toBe('too few')
    expect(
      seen(
        quick.map(([s, v]) => [s * 2, v] as const),
        'mV',
      ).state,
    ).toBe('settled')
  })
  test('a failed reading between good ones is passed over; counts may differ by ten', () => {
    const rows = [
      [0, 2000],
      [20, NaN],
      [30, 2006],
      [40, 1999],
    ] as const
    expect(seen(rows, 'counts').state).toBe('settled')
    expect(seen(rows, 'mV').state).toBe('moving')
  })
})

describe('water by weight', () => {
  const soil = { tinG: 50, wetG: 170, dryG: 150, volumeCm3: null, bulkDensity: 1350 }
  test('0.20 g/g at 1.35 g/cm3 are 27 % by volume (computed)', () => {
    expect(waterByWeight(soil)).toMatchObject({ byMass: 0.2, byVolume: expect.closeTo(0.27, 9) })
  })
  test('a volume gives the density', () => {
    const found = waterByWeight({ ...soil, volumeCm3: 80, bulkDensity: null })
    expect(found).toMatchObject({ bulkDensity: 1250, byVolume: expect.closeTo(0.25, 9) })
  })
  test.each([
    ['wetG', { wetG: 140 }],
    ['dryG', { dryG: 50 }],
    ['bulkDensity', { bulkDensity: 5000 }],
    ['bulkDensity', { bulkDensity: null }],
    ['volumeCm3', { volumeCm3: 1 }],
    ['wetG', { wetG: 290, bulkDensity: 1350 }],
  ] as const)('%s is asked about when it cannot be', (path, change) => {
    expect(waterByWeight({ ...soil, ...change })).toMatchObject({ path })
  })
})

/** Hours with one value each, ascending, ending with the present one. */
function hours(values: readonly number[]) {
  const out = emptyBuckets('hour', values.length)
  for (const [i, value] of values.entries()) {
    out.time[i] = NOW - (values.length - 1 - i) * HOUR
    out.count[i] = 4
    for (const name of ['min', 'mean', 'max', 'median'] as const) out[name][i] = value
  }
  return out
}
const feed = (
  channels: SpotFeed['channels'],
  calibrations: SpotFeed['calibrations'],
): SpotFeed => ({
  spot: { id: 1, bedId: 1, name: 'north' },
  probe: 'p1x',
  from: NOW - 40 * DAY,
  to: NOW + HOUR,
  channels,
  calibrations,
})

describe('the effect of a calibration before it is stored', () => {
  const emf = { channel: channel('p1x', 'phmv', 'ph.emf'), buckets: hours(Array(48).fill(0)) }
  const warm = { channel: channel('p1x', 'st', 'temp.soil'), buckets: hours(Array(48).fill(25)) }
  const old = electrode(made(1, 0, [7, 4]))
  const next = electrode(made(1, nernstSlope(25) / 2, [7, 4]), { at: NOW - 2 * HOUR })

  test('an offset of half a pH: all read half a pH higher had it held, three hours really change', () => {
    const effect = calibrationEffect(feed([emf, warm], [old]), next, null)
    expect(effect.present.now).toBeCloseTo(7, 9)
    expect(effect.present.then).toBeCloseTo(7.5, 9)
    expect(effect.middle.then - effect.middle.now).toBeCloseTo(0.5, 9)
    expect(effect.hoursChanged).toBe(3)
    expect(effect.changesFrom).toBe(NOW - 2 * HOUR)
    expect(effect.sentence).toMatch(/pH 7\.50 instead of pH 7\.00/)
  })
  test('one that stands in for another is held against it, not beside it', () => {
    const stored = { ...next, id: 2 }
    const same = calibrationEffect(feed([emf, warm], [old, stored]), next, 2)
    expect(same.hoursChanged).toBe(0)
    expect(same.sentence).toMatch(/changes nothing that is stored/)
  })
  test('a silent channel', () => {
    const effect = calibrationEffect(feed([], []), next, null)
    expect(effect.at).toBeNull()
    expect(effect.sentence).toMatch(/nothing in the last 30 days/)
  })
})

describe('own soils', () => {
  const ends: MoistureCalibration = {
    kind: 'moisture',
    id: 1,
    probe: 'p1x',
    channel: 'm1',
    at: NOW - 20 * HOUR,
    dryRaw: 3000,
    wetRaw: 1000,
    note: '',
  }
  const soils = [
    { raw: 2600, vwc: 0.1 },
    { raw: 1800, vwc: 0.3 },
  ]
  test('the line through two points, worked by hand', () => {
    // Shares 0.2 and 0.6: rise 0.5, so 0.0 at the dry and 0.5 at the wet point.
    const line = soilLine({ ...ends, soilPoints: soils })!
    expect(line.dry).toBeCloseTo(0, 9)
    expect(line.wet).toBeCloseTo(0.5, 9)
    expect(line.residual).toBeCloseTo(0, 9)
  })
  test.each([
    ['one point', soils.slice(0, 1)],
    ['too near', [soils[0]!, { raw: 2500, vwc: 0.13 }]],
    ['wetter reads drier', [soils[0]!, { raw: 2800, vwc: 0.3 }]],
  ])('%s makes no line', (_, soilPoints) => {
    expect(soilLine({ ...ends, soilPoints })).toBeNull()
  })
  test('from their date on the column is a volume; earlier shares are missing, but stay for the watch', () => {
    const counts = {
      channel: channel('p1x', 'm1', 'moist.raw'),
      buckets: hours(Array(12).fill(2000)),
    }
    const later = { ...ends, id: 2, at: NOW - 5 * HOUR, soilPoints: soils }
    // New ends later on: the soils hold on.
    const newest = { ...ends, id: 3, at: NOW - 2 * HOUR }
    const one = feed([counts], [ends, later, newest])
    const history = spotHistory(one, 'hour')
    expect(history.moistureScale).toBe('volume')
    expect(history.moisture.slice(0, 6).every(Number.isNaN)).toBe(true)
    for (const value of history.moisture.slice(6)) expect(value).toBeCloseTo(0.25, 9)
    const rows = watchHours({
      bed: bed(),
      spots: [],
      from: one.from,
      to: one.to,
      step: 'hour',
      feeds: [one],
    })
    expect(rows[0]!.rows[0]).toMatchObject({ moisture: 0.5, moistureScale: 'probe range' })
    expect(rows.at(-1)!.rows[0]!.moistureScale).toBe('volume')
  })
})

describe('the health of an electrode', () => {
  const calibration = (id: number, days: number, slope: number): ElectrodeCalibration =>
    electrode(made(slope, 3, [7, 4]), { id, at: NOW - days * DAY })
  test('never held in buffers', () => {
    expect(electrodeHealth([], { at: NOW, cycling: false })).toMatchObject({
      due: true,
      dueAt: null,
    })
  })
  test.each([
    [29, false, false],
    [30, false, true],
    [6, true, false],
    [7, true, true],
  ])('after %d days, wet and dry by turns: %s, due: %s', (days, cycling, due) => {
    const health = electrodeHealth([calibration(1, days, 0.99)], { at: NOW, cycling })
    expect(health.due).toBe(due)
    expect(health.reminder).toMatch(/common practice, no source/)
  })
  test('its slope over the calibrations', () => {
    const health = electrodeHealth([calibration(1, 200, 0.99), calibration(2, 3, 0.9)], {
      at: NOW,
      cycling: false,
    })
    expect(health.rows.map(({ slopePercent }) => Math.round(slopePercent!))).toEqual([99, 90])
    expect(health.sentence).toMatch(/fallen by 9\.0 % over 197 days/)
    expect(health.sentence).toMatch(/near its end/)
  })
  test('wet and dry by turns on either scale', () => {
    expect(wetAndDry(0.2, 0.7, 'probe range')).toBe(true)
    expect(wetAndDry(0.2, 0.5, 'probe range')).toBe(false)
    expect(wetAndDry(0.1, 0.3, 'volume')).toBe(true)
    expect(wetAndDry(NaN, NaN, 'unknown')).toBe(false)
  })
})

describe('water out of permittivity', () => {
  /** US Army CRREL Special Report 98-2, Table 14, column of the equation of Topp, Davis and Annan; per cent. */
  test.each([
    [13.7, 25.5],
    [15.3, 28.0],
    [7.6, 13.9],
    [8.0, 14.7],
    [6.6, 11.7],
  ])('%d is %d %%', (permittivity, percent) => {
    expect(Math.abs(100 * waterOfPermittivity(permittivity) - percent)).toBeLessThanOrEqual(0.1)
  })
  test('not outside the range it was made for', () => {
    for (const permittivity of [1, 2.9, 40.1, 80, NaN]) {
      expect(waterOfPermittivity(permittivity)).toBeNaN()
    }
  })
  test('a channel of it gives volumes in mineral soil, nothing in a mix or where the soil is not known', () => {
    const eps = { channel: channel('p1x', 'eps', 'permittivity'), buckets: hours([13.7, 8]) }
    const loam = spotHistory({ ...feed([eps], []), texture: 'loam' }, 'hour')
    expect(loam.moistureScale).toBe('volume')
    expect(loam.moisture[0]).toBeCloseTo(0.255, 2)
    expect(loam.byVolume[1]).toBe(1)
    for (const other of [
      feed([eps], []),
      { ...feed([eps], []), texture: 'raised-bed mix' } as const,
    ]) {
      expect(spotHistory(other, 'hour').moistureScale).toBe('unknown')
    }
  })
})
