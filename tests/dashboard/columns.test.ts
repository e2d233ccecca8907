import { describe, expect, test } from 'vitest'
import type { BedSeries, Present } from '../../hub/api/schemas/bed.ts'
import { countGaps, axisRange, chartColumns, extent } from '../../dashboard/src/chart/columns.ts'
import { breakAtSilence } from '../../dashboard/src/chart/silence.ts'
import { nearestKnown, nearest } from '../../dashboard/src/chart/near.ts'
import { shortNames } from '../../dashboard/src/chart/short-names.ts'
import { shortRuns } from '../../dashboard/src/chart/short-runs.ts'
import { rangeBack } from '../../dashboard/src/chart/range.ts'
import { moved, refetchMs, zoomed } from '../../dashboard/src/chart/range-moves.ts'

const DAY = 86_400_000

function series(
  time: number[],
  value: (number | null)[],
  change: Partial<BedSeries> = {},
): BedSeries {
  const shift = (by: number) => value.map((v) => (v === null ? null : v + by))
  return {
    bedId: 1,
    quantity: 'ph',
    unit: 'pH',
    from: 0,
    to: 1000,
    stepMs: 10,
    time,
    value,
    low: shift(-0.1),
    high: shift(0.1),
    min: value,
    max: value,
    spots: [],
    ...change,
  }
}
const plain = { from: 0, to: 1000, present: null, shown: (x: number) => x }

describe('columns of a chart', () => {
  test('the line breaks where buckets are missing, and the axis spans the range', () => {
    const { time, value } = chartColumns(series([100, 110, 150, 160], [6, 6.1, 6.2, 6.3]), plain)
    expect(time).toEqual([0, 100, 110, 111, 150, 160, 1000])
    expect(value).toEqual([null, 6, 6.1, null, 6.2, 6.3, null])
  })

  test('one missing bucket alone does not break it', () => {
    const { value } = chartColumns(series([100, 110, 130], [6, 6.1, 6.2]), plain)
    expect(value).toEqual([null, 6, 6.1, 6.2, null])
  })

  test('raw readings, which have no step, are measured by their usual spacing', () => {
    const { time } = chartColumns(
      series([100, 120, 140, 300, 320], [6, 6, 6, 6, 6], { stepMs: 0 }),
      plain,
    )
    expect(time).toEqual([0, 100, 120, 140, 141, 300, 320, 1000])
  })

  test('cells of a grid finer than the probe sends do not break its line, a real hole does', () => {
    const hole = [null, null, null, null, null, null, null, null]
    const value = [6, null, null, 6.1, null, null, 6.2, null, null, 6.3, ...hole, 6]
    const time = value.map((_, i) => 5 * i)
    const drawn = chartColumns(series(time, value, { stepMs: 5 }), { ...plain, to: 90 })
    const open = [undefined, undefined]
    expect(drawn.value).toEqual([6, ...open, 6.1, ...open, 6.2, ...open, 6.3, ...hole, 6])
    expect(countGaps(drawn.value)).toBe(1)
    expect(nearestKnown(drawn.time, drawn.value, 9)).toBe(3)
    expect(nearestKnown(drawn.time, drawn.value, 60)).toBe(12)
  })

  test('a line is not drawn through the cells where a spot was left out', () => {
    const spot = { spotId: 1, spot: 'north', probe: 'a1b' }
    const value = [6, null, 6.1, null, 6.2, null, 6.3]
    const leftOut = [false, false, true, false, false, false, false]
    const time = [0, 10, 20, 30, 40, 50, 60]
    const data = series(time, value, { spots: [{ ...spot, value, leftOut }] })
    const drawn = chartColumns(data, { ...plain, to: 60 }).spots[0]
    expect(drawn?.counted).toEqual([6, undefined, null, undefined, 6.2, undefined, 6.3])
  })

  test('no data is an empty axis', () => {
    expect(chartColumns(null, plain)).toEqual({
      time: [0, 1000],
      value: [null, null],
      low: [null, null],
      high: [null, null],
      lowest: [null, null],
      highest: [null, null],
      spots: [],
    })
  })

  test('a newer present value is the end of the line; an older one is not drawn twice', () => {
    const present: Present = {
      status: 'ok',
      value: 7,
      halfWidth: 0.5,
      at: 118,
      used: [],
      leftOut: [],
    }
    const data = series([100, 110], [6, 6])
    const drawn = chartColumns(data, { ...plain, present })
    expect(drawn.time).toEqual([0, 100, 110, 118, 1000])
    expect([drawn.value[3], drawn.low[3], drawn.high[3]]).toEqual([7, 6.5, 7.5])
    expect(chartColumns(data, { ...plain, present: { ...present, at: 110 } }).time).toHaveLength(4)
  })

  test('a spot is two lines, and the faint one reaches to where it counts again', () => {
    const spots = [
      {
        spotId: 1,
        spot: 'north',
        probe: 'a1b',
        value: [6, 6.1, 6.2, null],
        leftOut: [false, true, false, false],
      },
    ]
    const { spots: drawn } = chartColumns(series([0, 10, 20, 30], [6, 6, 6, 6], { spots }), {
      ...plain,
      to: 30,
    })
    expect(drawn[0]?.counted).toEqual([6, null, 6.2, null])
    expect(drawn[0]?.leftOut).toEqual([null, 6.1, 6.2, null])
  })

  test('values are converted to the unit of the axis', () => {
    const { value } = chartColumns(series([0, 10], [0.4, 0.5]), {
      ...plain,
      to: 10,
      shown: (x) => x * 100,
    })
    expect(value).toEqual([40, 50])
  })
})

test('extent leaves out what is missing', () => {
  expect(extent([[null, 6, 5], [8]])).toEqual([5, 8])
  expect(extent([[null]])).toBeNull()
})

test('the axis holds data and band, and does not magnify noise', () => {
  const [low, high] = axisRange([6.49, 6.51], { low: 6, high: 7 }, 2)
  expect(high - low).toBeCloseTo(2)
  const [a, b] = axisRange([4, 9], { low: 6, high: 7 }, 2)
  expect(a).toBeLessThan(4)
  expect(b).toBeGreaterThan(9)
  expect(axisRange(null, null, 2)).toEqual([0, 2])
})

test('the nearest row', () => {
  const time = [0, 10, 20]
  expect([-5, 4, 6, 14, 99].map((at) => nearest(time, at))).toEqual([0, 0, 1, 1, 2])
  expect(nearest([], 5)).toBe(-1)
})

test('runs too short for a line to be seen', () => {
  const time = [0, 10, 20, 30, 40, 50, 60]
  expect(shortRuns(time, [null, 6, null, 6, undefined, 6, null], 15)).toEqual([1])
  expect(shortRuns(time, [null, 6, null, 6, undefined, 6, null], 25)).toEqual([1, 5])
  expect(shortRuns(time, [null, null, null, null, null, null, 6], 1)).toEqual([6])
  expect(shortRuns([], [], 1)).toEqual([])
})

test('names are cut where they stay different', () => {
  expect(shortNames(['By the wall', 'By the path', 'Middle'], 8)).toEqual([
    '…he wall',
    '…he path',
    'Middle',
  ])
  expect(shortNames(['North end of it', 'South'], 8)).toEqual(['North e…', 'South'])
})

test('gaps are counted within the line only', () => {
  expect(countGaps([null, 6, null, null, 6, null, 6, null])).toBe(2)
  expect(countGaps([null, null])).toBe(0)
})

describe('ranges', () => {
  test('a range back ends a little after now', () => {
    const range = rangeBack(1000 * DAY, 100)
    expect(range.from).toBe(900 * DAY)
    expect(range.to).toBeGreaterThan(1000 * DAY)
    expect(range.to).toBeLessThan(1003 * DAY)
  })
  test('closer and wider keep the middle and stop somewhere', () => {
    const range = { from: 100 * DAY, to: 200 * DAY }
    expect(zoomed(range, 0.5)).toEqual({ from: 125 * DAY, to: 175 * DAY })
    const smallest = zoomed(range, 1e-9)
    expect(smallest.to - smallest.from).toBe(30 * 60_000)
  })
  test('later does not run past the present', () => {
    const range = { from: 100 * DAY, to: 200 * DAY }
    expect(moved(range, 0.5, 210 * DAY)).toEqual({ from: 110 * DAY, to: 210 * DAY })
    expect(moved(range, -0.5, 210 * DAY)).toEqual({ from: 50 * DAY, to: 150 * DAY })
  })
  test('a day is fetched again each second, a year rarely', () => {
    expect(refetchMs({ from: 0, to: DAY })).toBe(1000)
    expect(refetchMs({ from: 0, to: 366 * DAY })).toBe(60_000)
  })
})

test('a silence breaks the line of a channel, its usual pace does not', () => {
  const time = [0, 10, 20, 31, 100, 110, 120]
  const [times, values] = breakAtSilence(time, [[1, 2, 3, 4, 5, 6, 7]])
  expect(times).toEqual([0, 10, 20, 31, 65.5, 100, 110, 120])
  expect(values).toEqual([1, 2, 3, 4, null, 5, 6, 7])
  expect(breakAtSilence([], [[]])).toEqual([[], []])
})
