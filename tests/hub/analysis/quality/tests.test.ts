import { describe, expect, test } from 'vitest'
import { spotHistory, type SpotHistory } from '#hub/analysis/measure/spot-history.ts'
import { clippedValue } from '#hub/analysis/quality/clipped-value.ts'
import { dryContact } from '#hub/analysis/quality/dry-contact.ts'
import { availableShare, fieldCapacity } from '#hub/analysis/quality/dry-soil.ts'
import { electrodeTemperature } from '#hub/analysis/quality/electrode-temperature.ts'
import { flatLine } from '#hub/analysis/quality/flat-line.ts'
import { grossRange, isSoilPh, isSoilTemperature } from '#hub/analysis/quality/gross-range.ts'
import { lowSupply } from '#hub/analysis/quality/low-supply.ts'
import { type Neighbour, neighbours } from '#hub/analysis/quality/neighbours.ts'
import { usualChange } from '#hub/analysis/quality/own-noise.ts'
import { graver, QARTOD } from '#hub/analysis/quality/qartod.ts'
import { rateOfChange } from '#hub/analysis/quality/rate-of-change.ts'
import { serviceWindow } from '#hub/analysis/quality/service-window.ts'
import { spike } from '#hub/analysis/quality/spike.ts'
import { unsettled } from '#hub/analysis/quality/unsettled.ts'
import { probeDoubts, WIRE } from '#hub/analysis/quality/wire-flags.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import { seededRandom } from '#tests/support/random.ts'
import { channel, feed, normal, NOW, type ProbeRows, rawBuckets, type Row } from '../case.ts'

const spots = [{ id: 1, bedId: 1, name: 'north' }]
const { pass, notEvaluated, suspect, fail, missing } = QARTOD

function history(rows: Partial<ProbeRows>, step: 'raw' | 'hour' | 'day' = 'raw'): SpotHistory {
  const all = { spot: 'north', ph: [], ...rows }
  return spotHistory(feed(all, 0, spots, step, 0, NOW + 400 * DAY), step)
}

/** Values a quarter of an hour apart. */
const quarters = (values: readonly number[]): Row[] =>
  values.map((value, i) => ({ at: NOW + i * 15 * MINUTE, value }))
/** Values an hour apart. */
const hours = (values: readonly number[]): Row[] =>
  values.map((value, i) => ({ at: NOW + i * HOUR, value }))

function noisy(n: number, level = 6.2, sd = 0.02, seed = 2): number[] {
  const random = seededRandom(seed)
  return Array.from({ length: n }, () => Math.round(100 * (level + sd * normal(random))) / 100)
}

const count = (flags: Uint8Array, flag: number): number => flags.filter((f) => f === flag).length
const where = (flags: Uint8Array, flag: number): number[] =>
  Array.from(flags.keys()).filter((row) => flags[row] === flag)

test('flag values are those of the QARTOD flag manual, version 1.2, and of IOC Manuals and Guides 54', () => {
  expect(QARTOD).toEqual({ pass: 1, notEvaluated: 2, suspect: 3, fail: 4, missing: 9 })
})

test('of several verdicts the gravest stays, and a test passed is more than none made', () => {
  expect(graver(pass, suspect)).toBe(suspect)
  expect(graver(fail, suspect)).toBe(fail)
  expect(graver(notEvaluated, pass)).toBe(pass)
  expect(graver(pass, notEvaluated)).toBe(pass)
  expect(graver(fail, missing)).toBe(missing)
})

test('gross range: what no soil is fails, what hardly any garden is raises doubt', () => {
  const ph = Float64Array.of(6.2, 3.5, 3.4, 9, 9.1, 2.4, 11.1, 0, 14, NaN)
  expect(Array.from(grossRange({ ph }))).toEqual([
    pass,
    pass,
    suspect,
    pass,
    suspect,
    fail,
    fail,
    fail,
    fail,
    missing,
  ])
})

test('the edges of what soil can be belong to it', () => {
  expect([2.49, 2.5, 11, 11.01, NaN].map(isSoilPh)).toEqual([false, true, true, false, false])
  expect([-30.1, -30, 70, 70.1, NaN].map(isSoilTemperature)).toEqual([
    false,
    true,
    true,
    false,
    false,
  ])
})

test('electrode temperature: 2 to 40 degrees pass, beyond fails, unknown is not evaluated', () => {
  const ph = Float64Array.of(6, 6, 6, 6, 6, NaN)
  const temperature = Float64Array.of(2, 40, 1.9, 40.1, NaN, 20)
  expect(Array.from(electrodeTemperature({ ph, temperature }))).toEqual([
    pass,
    pass,
    fail,
    fail,
    notEvaluated,
    missing,
  ])
})

test('clipped: at the end of the range fails, what the probe says without a channel raises doubt', () => {
  const ph = Float64Array.of(6, 6, 6, NaN)
  const clipped = Uint8Array.of(0, 1, 0, 1)
  expect(Array.from(clippedValue({ ph, clipped }, null))).toEqual([pass, fail, pass, missing])
  const wire = Uint8Array.of(0, 0, WIRE.clipped | WIRE.restarted, WIRE.clipped)
  expect(Array.from(clippedValue({ ph, clipped }, wire))).toEqual([pass, fail, suspect, missing])
})

test('the usual change is the robust spread of the steps from value to value, gaps left out', () => {
  const at = (hour: number, value: number): Row => ({ at: NOW + hour * HOUR, value })
  expect(usualChange(history({ ph: [] }))).toBe(0)
  expect(usualChange(history({ ph: [at(0, 6)] }))).toBe(0)
  // Steps 0.1, 0.3, 0.2; the 1.0 lies across four hours.
  const few = [at(0, 6), at(1, 6.1), at(2, 5.8), at(3, 6), at(7, 7)]
  expect(usualChange(history({ ph: few }, 'hour'))).toBeCloseTo(1.4826 * 0.2, 9)
  expect(usualChange(history({ ph: few.toSpliced(1, 1) }, 'hour'))).toBeCloseTo(1.4826 * 0.2, 9)
})

describe('spike', () => {
  const at = (values: number[], step: 'raw' | 'hour' = 'raw'): Uint8Array => {
    const of = history({ ph: step === 'raw' ? quarters(values) : hours(values) }, step)
    return spike(of, usualChange(of))
  }

  test('a quiet probe passes, its ends are not evaluated', () => {
    const flags = at(noisy(200))
    expect(count(flags, pass)).toBe(198)
    expect([flags[0], flags[199]]).toEqual([notEvaluated, notEvaluated])
  })

  test('a lone value far out fails, a small one raises doubt, in hours both only raise doubt', () => {
    const values = noisy(200)
    values[50] = 7.1
    values[120]! -= 0.4
    expect(where(at(values), fail)).toEqual([50])
    expect(where(at(values), suspect)).toEqual([120])
    expect(where(at(values, 'hour'), fail)).toEqual([])
    expect(where(at(values, 'hour'), suspect)).toEqual([50, 120])
  })

  test('a step is not a spike, nor are two values together', () => {
    const step = noisy(200).map((value, i) => (i < 100 ? value : value + 1))
    expect(count(at(step), fail) + count(at(step), suspect)).toBe(0)
    const pair = noisy(200).map((value, i) => (i === 80 || i === 81 ? value + 1 : value))
    expect(count(at(pair), fail)).toBe(0)
  })

  test('what is far out depends on the noise of the probe itself', () => {
    const of = (sd: number): number[] => noisy(400, 6.2, sd).map((v, i) => (i === 200 ? 6.8 : v))
    expect(at(of(0.01))[200]).toBe(fail)
    expect(at(of(0.2))[200]).toBe(pass)
  })

  test('without near neighbours it cannot be told, and days are not looked at', () => {
    const apart = [6, 7.5, 6].map((value, i) => ({ at: NOW + i * 4 * HOUR, value }))
    const raw = history({ ph: apart })
    expect(Array.from(spike(raw, 0))).toEqual([notEvaluated, notEvaluated, notEvaluated])
    const days = history({ ph: apart.map(({ value }, i) => ({ at: NOW + i * DAY, value })) }, 'day')
    expect(Array.from(spike(days, 0))).toEqual([notEvaluated, notEvaluated, notEvaluated])
  })

  test('the limits: 0.2 and 0.5, or 6 and 15 of the usual changes', () => {
    const flagOf = (out: number, usual: number): number | undefined =>
      spike(history({ ph: quarters([6, 6 + out, 6]) }), usual)[1]
    expect([0.19, 0.21, 0.49, 0.51].map((out) => flagOf(out, 0.01))).toEqual([
      pass,
      suspect,
      suspect,
      fail,
    ])
    expect([0.59, 0.61, 1.49, 1.51].map((out) => flagOf(out, 0.1))).toEqual([
      pass,
      suspect,
      suspect,
      fail,
    ])
    expect(flagOf(-0.51, 0.01)).toBe(fail)
  })

  test('a missing value between two others is passed over', () => {
    const flags = spike(history({ ph: quarters([6, 6, NaN, 7.5, NaN, 6, 6]) }), 0.01)
    expect(Array.from(flags)).toEqual([
      notEvaluated,
      pass,
      missing,
      fail,
      missing,
      pass,
      notEvaluated,
    ])
  })
})

describe('rate of change', () => {
  const at = (values: number[]): Uint8Array => {
    const of = history({ ph: hours(values) }, 'hour')
    return rateOfChange(of, usualChange(of))
  }

  test('soil and its daily swing pass', () => {
    const swing = noisy(400).map((value, i) => value + 0.1 * Math.sin((2 * Math.PI * i) / 24))
    expect(count(at(swing), pass)).toBe(399)
  })

  test('a step raises doubt once, at its first value; it never fails', () => {
    const flags = at(noisy(400).map((value, i) => (i < 200 ? value : value - 0.6)))
    expect(where(flags, suspect)).toEqual([200])
    expect(count(flags, fail)).toBe(0)
  })

  test('the limits: 0.3, or 8 of the usual changes', () => {
    const flagOf = (change: number, usual: number): number | undefined =>
      rateOfChange(history({ ph: hours([6, 6 + change]) }, 'hour'), usual)[1]
    expect([0.29, 0.31, -0.31].map((change) => flagOf(change, 0.01))).toEqual([
      pass,
      suspect,
      suspect,
    ])
    expect([0.79, 0.81].map((change) => flagOf(change, 0.1))).toEqual([pass, suspect])
  })

  test('across a gap nothing is compared', () => {
    const rows = noisy(100).map((value, i) => ({
      at: NOW + (i < 50 ? i : i + 10) * HOUR,
      value: i < 50 ? value : value + 1,
    }))
    const of = history({ ph: rows }, 'hour')
    expect(rateOfChange(of, usualChange(of))[50]).toBe(notEvaluated)
  })
})

test('flat line: two hours raise doubt, three fail, and one value that stands still is the first that passes', () => {
  const held = (n: number): Uint8Array => {
    const values = noisy(60)
    for (let i = 20; i < 20 + n; i++) values[i] = 6.77
    return flatLine({ ...history({ ph: quarters(values) }), resolutionPh: 0.001 })
  }
  expect(count(held(8), suspect) + count(held(8), fail)).toBe(0)
  expect(where(held(9), suspect)).toEqual([21, 22, 23, 24, 25, 26, 27, 28])
  expect(where(held(13), fail)).toEqual([21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 32])
  expect(held(13)[20]).toBe(pass)
})

test('flat line: from the first reading on, to the last, and in rolled-up days', () => {
  const start = [...Array.from({ length: 13 }, () => 6.77), ...noisy(20)]
  const at = (values: number[]): number[] =>
    where(flatLine({ ...history({ ph: quarters(values) }), resolutionPh: 0.001 }), fail)
  expect(at(start)).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12])
  expect(at(start.toReversed())).toEqual([21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 32])
  const rows = Array.from({ length: 24 * 4 }, (_, i) => ({
    at: NOW + (i - 12) * HOUR,
    value: i >= 24 && i < 48 ? 6.5 : 6 + 0.01 * (i % 7),
  }))
  expect(where(flatLine(history({ ph: rows }, 'day')), fail)).toEqual([1])
})

test('flat line: a probe that says how coarse it is gets the long limit', () => {
  const values = noisy(60)
  values.fill(6.77, 20, 40)
  const of = history({ ph: quarters(values) })
  expect(count(flatLine({ ...of, resolutionPh: 0.001 }), fail)).toBe(19)
  expect(count(flatLine({ ...of, resolutionPh: 0.01 }), fail)).toBe(0)
  expect(count(flatLine({ ...of, resolutionPh: 0.1 }), fail)).toBe(0)
})

test('dry contact: below half of the available water fails, below 0.7 raises doubt, unknown is not evaluated', () => {
  const ph = Float64Array.of(6, 6, 6, 6, 6, NaN)
  const available = Float64Array.of(0.49, 0.5, 0.69, 0.7, NaN, 0.9)
  expect(Array.from(dryContact(ph, available))).toEqual([
    fail,
    suspect,
    suspect,
    pass,
    notEvaluated,
    missing,
  ])
})

test('share of available water: the latest moisture of six hours, none on an unknown scale', () => {
  const ph = hours(noisy(20))
  const moisture = hours([0.21]).concat({ at: NOW + 10 * HOUR, value: 0.28 })
  const of = history({ ph, moisture }, 'hour')
  const share = availableShare(of, 'loam', 0.28)
  const known = (value: number, n: number): number[] => Array.from({ length: n }, () => value)
  const expected = [...known(0.5, 7), ...known(NaN, 3), ...known(1, 7), ...known(NaN, 3)]
  for (const [row, value] of expected.entries()) {
    if (Number.isNaN(value)) expect(share[row], `row ${row}`).toBeNaN()
    else expect(share[row], `row ${row}`).toBeCloseTo(value, 9)
  }
  expect(
    availableShare({ ...of, moistureScale: 'unknown' }, 'loam', 0.28).every(Number.isNaN),
  ).toBe(true)
})

test('field capacity of a history: two days of hours, never below half of the texture', () => {
  const capacity = (n: number, value: number, step: 'raw' | 'hour' = 'hour'): number => {
    const moisture = hours(Array.from({ length: n }, () => value))
    return fieldCapacity(history({ ph: hours(noisy(n)), moisture }, step), 'loam')
  }
  expect(capacity(47, 0.35)).toBe(0.28)
  expect(capacity(48, 0.35)).toBeCloseTo(0.35, 9)
  expect(capacity(48, 0.35, 'raw')).toBe(0.28)
  expect(capacity(48, 0.15)).toBeCloseTo(0.15, 9)
  expect(capacity(48, 0.1)).toBeCloseTo(0.14, 9)
  const rising = hours(Array.from({ length: 100 }, (_, i) => 0.2 + 0.001 * i))
  const of = history({ ph: hours(noisy(100)), moisture: rising }, 'hour')
  expect(fieldCapacity(of, 'loam')).toBeCloseTo(0.295, 9)
})

describe('unsettled after water', () => {
  const wet = (rise: number, over: number, scaled = 1): Uint8Array => {
    const moisture = Array.from(
      { length: 48 },
      (_, i) => scaled * (0.2 + rise * Math.min(1, Math.max(0, (i - 20) / over))),
    )
    const of = history({ ph: hours(noisy(48)), moisture: hours(moisture) }, 'hour')
    const scale = scaled === 1 ? 'volume' : 'probe range'
    return unsettled({ ...of, moistureScale: scale }, 'loam', scaled * 0.28)
  }

  test('six hours from the jump on', () => {
    expect(where(wet(0.05, 1), suspect)).toEqual([21, 22, 23, 24, 25, 26])
    expect(where(wet(0.05, 1, 2), suspect)).toEqual([21, 22, 23, 24, 25, 26])
  })

  test('slow and small changes leave the reading alone', () => {
    expect(count(wet(0.019, 1), suspect)).toBe(0)
    expect(count(wet(0.021, 1), suspect)).toBe(6)
    expect(count(wet(-0.021, 1), suspect), 'water that runs off moves it too').toBe(6)
    expect(count(wet(0.1, 8), suspect)).toBe(0)
    expect(count(wet(0.019, 1, 2), suspect)).toBe(0)
  })

  test('without moisture it is not evaluated', () => {
    const of = history({ ph: hours(noisy(10)) }, 'hour')
    expect(count(unsettled(of, 'loam', 0.28), notEvaluated)).toBe(10)
  })
})

describe('service window', () => {
  test('two hours around the noted time fail, then it settles until sixteen hours after', () => {
    const of = history({ ph: hours(noisy(48)) }, 'hour')
    const flags = serviceWindow(of, [NOW + 20 * HOUR])
    expect(where(flags, fail)).toEqual([18, 19, 20, 21, 22])
    expect(where(flags, suspect)).toEqual(Array.from({ length: 13 }, (_, i) => 23 + i))
    expect(count(serviceWindow(of, []), pass)).toBe(48)
    expect(count(serviceWindow(of, null), notEvaluated)).toBe(48)
  })

  test('a probe out of the soil is seen by its moisture', () => {
    const moisture = hours(
      Array.from({ length: 48 }, (_, i) => (i === 10 || i === 11 ? 0.01 : 0.25)),
    )
    const flags = serviceWindow(history({ ph: hours(noisy(48)), moisture }, 'hour'), null)
    expect(where(flags, fail)).toEqual([10, 11])
    expect(where(flags, suspect)).toEqual(Array.from({ length: 15 }, (_, i) => 12 + i))
  })

  test('pulled for a moment of an hour it only settles', () => {
    const moisture = Array.from({ length: 48 * 4 }, (_, i) => ({
      at: NOW + i * 15 * MINUTE,
      value: i === 41 ? 0.01 : 0.25,
    }))
    const flags = serviceWindow(history({ ph: hours(noisy(48)), moisture }, 'hour'), null)
    expect(count(flags, fail)).toBe(0)
    expect(where(flags, suspect)).toEqual(Array.from({ length: 16 }, (_, i) => 10 + i))
  })

  test('noted twice in a row, or noted and seen, the later end holds', () => {
    const of = history({ ph: hours(noisy(48)) }, 'hour')
    const twice = serviceWindow(of, [NOW + 20 * HOUR, NOW + 24 * HOUR])
    expect(where(twice, fail)).toEqual([18, 19, 20, 21, 22, 23, 24, 25, 26])
    expect(where(twice, suspect)).toEqual(Array.from({ length: 13 }, (_, i) => 27 + i))
  })
})

describe('supply', () => {
  const withSupply = (volts: number[], unit = 'V'): SpotHistory => {
    const of = history({ ph: hours(noisy(volts.length)) }, 'hour')
    const supply = {
      channel: channel('probe1', 'bat', 'bat', { unit }),
      buckets: rawBuckets(hours(volts)),
    }
    return { ...of, feed: { ...of.feed, channels: [...of.feed.channels, supply] } }
  }

  test('a voltage far below its usual best raises doubt, its daily course does not', () => {
    const volts = Array.from(
      { length: 96 },
      (_, i) => 3.93 + 0.07 * Math.sin((2 * Math.PI * i) / 24),
    )
    expect(count(lowSupply(withSupply(volts), null), pass)).toBe(96)
    const sagging = volts.map((volt, i) => (i < 90 ? volt : 3.2))
    expect(where(lowSupply(withSupply(sagging), null), suspect)).toEqual([90, 91, 92, 93, 94, 95])
    expect(where(lowSupply(withSupply([80, 50, 10, 9], '%EL'), null), suspect)).toEqual([3])
  })

  test('the probe may say so itself, and without either it is not evaluated', () => {
    const of = history({ ph: hours(noisy(4)) }, 'hour')
    expect(Array.from(lowSupply(of, Uint8Array.of(0, 4, 12, 1)))).toEqual([
      pass,
      suspect,
      suspect,
      pass,
    ])
    expect(count(lowSupply(of, null), notEvaluated)).toBe(4)
  })
})

test('the bits of the wire format: 1 not settled, 2 clipped, 4 supply low, 8 restarted by the watchdog', () => {
  expect(WIRE).toEqual({ notSettled: 1, clipped: 2, supplyLow: 4, restarted: 8 })
})

test("the probe's own doubt: not settled or restarted, other bits are not its business", () => {
  const ph = Float64Array.of(6, 6, 6, 6, NaN)
  expect(Array.from(probeDoubts({ ph }, Uint8Array.of(0, 1, 8, 4, 1)))).toEqual([
    pass,
    suspect,
    suspect,
    pass,
    missing,
  ])
  expect(count(probeDoubts({ ph }, null), notEvaluated)).toBe(4)
})

describe('neighbouring spots', () => {
  const DAYS = 60
  const place = (seed: number, offset: number, extra: (hour: number) => number): Neighbour => {
    const random = seededRandom(seed)
    const n = DAYS * 24
    const time = Float64Array.from({ length: n }, (_, i) => NOW + i * HOUR)
    const ph = Float64Array.from(
      { length: n },
      (_, i) => 6.5 + offset + 0.3 * Math.sin(i / 200) + 0.04 * normal(random) + extra(i),
    )
    return { time, ph, step: 'hour', flags: new Uint8Array(n) }
  }
  const calm = (): number => 0

  test('habit and what all spots share pass; the first ten days are learning', () => {
    const flags = neighbours(place(1, 0.4, calm), [place(2, 0, calm), place(3, -0.2, calm)])
    expect(count(flags, suspect)).toBe(0)
    expect(count(flags, pass)).toBeGreaterThan(45 * 24)
    expect(flags[9 * 24]).toBe(notEvaluated)
  })

  test('a spot that leaves the others raises doubt, until that has become its habit', () => {
    const left = place(1, 0, (i) => (i >= 600 ? -0.9 : 0))
    const flags = neighbours(left, [place(2, 0, calm), place(3, 0, calm)])
    expect(where(flags, suspect).slice(0, 3)).toEqual([600, 601, 602])
    expect(count(flags.slice(600, 900), suspect)).toBe(300)
    const last = where(flags, suspect).at(-1)! - 600
    expect(last, 'half of a month of pieces, and the piece begun').toBeGreaterThan(15 * 24)
    expect(last).toBeLessThan(21 * 24)
    const others = neighbours(place(2, 0, calm), [place(3, 0, calm), place(4, 0, calm), left])
    expect(count(others, suspect), 'the others are not blamed for it').toBe(0)
  })

  test('one neighbour is enough to be compared with', () => {
    const left = place(1, 0, (i) => (i >= 600 ? -0.9 : 0))
    expect(neighbours(left, [place(2, 0, calm)])[650]).toBe(suspect)
  })

  test('what a spot has always done is no news, however far', () => {
    const random = seededRandom(9)
    const restless = place(1, 0, (i) => (i >= 1000 && i < 1003 ? 1.6 : 0.35 * (random() - 0.5) * 2))
    const flags = neighbours(restless, [place(2, 0, calm)])
    expect(where(flags, suspect)).toEqual([1000, 1001, 1002])
    const mild = place(1, 0, (i) => (i >= 1000 && i < 1003 ? 0.75 : 0.35 * (random() - 0.5) * 2))
    expect(count(neighbours(mild, [place(2, 0, calm)]), suspect)).toBe(0)
    // A third of the hours 0.6 higher: the habit is that of most hours, not their mean.
    const swinging = place(3, 0, (i) => (i < 1200 && i % 3 === 0 ? 0.45 : 0))
    expect(count(neighbours(swinging, [place(2, 0, calm)]), suspect)).toBe(0)
  })

  test('a spot of which little is known is not judged', () => {
    const thin = (hoursADay: number): Uint8Array => {
      const own = place(1, 0, calm)
      for (const i of own.ph.keys()) if (i % 24 >= hoursADay) own.ph[i] = NaN
      return neighbours(own, [place(2, 0, calm)])
    }
    expect(count(thin(4), pass)).toBe(0)
    expect(count(thin(6), pass)).toBeGreaterThan(40 * 6)
  })

  test('all moving together, one spot alone, or hours of others that do not count', () => {
    const together = (i: number): number => (i >= 600 ? -1.5 : 0)
    const moved = neighbours(place(1, 0, together), [place(2, 0, together)])
    expect(count(moved, suspect)).toBe(0)
    expect(count(neighbours(place(1, 0, calm), []), notEvaluated)).toBe(DAYS * 24)
    const daily = { ...place(1, 0, calm), step: 'day' as const }
    expect(count(neighbours(daily, [place(2, 0, calm)]), notEvaluated)).toBe(DAYS * 24)
    const bad = place(2, 0, (i) => (i >= 600 ? 3 : 0))
    bad.flags.fill(2, 600)
    const flags = neighbours(place(1, 0, calm), [bad])
    expect(count(flags, suspect)).toBe(0)
    expect(flags[700]).toBe(notEvaluated)
  })
})
