import { describe, expect, test } from 'vitest'
import { bedDays } from '#hub/analysis/aggregate/bed-days.ts'
import { forecastBand } from '#hub/analysis/forecast/forecast-band.ts'
import { forecastSentence, inBandSentence } from '#hub/analysis/forecast/forecast-words.ts'
import { timeInBand } from '#hub/analysis/forecast/time-in-band.ts'
import { DAY } from '#hub/model/clock.ts'
import type { SpotDay } from '#hub/model/spot-day.ts'
import { seededRandom } from '#tests/support/random.ts'
import { DAY_ONE, dailyNoise, normalFrom, series, spotDays } from '#tests/support/slow-series.ts'
import { bed } from '../case.ts'

const BAND = { low: 6, high: 7 }
const YEAR = 365.25

describe('the outlook', () => {
  test.each([30, 90])(
    '%i days ahead its fans hold what they say, on calm, seasonal and drifting beds',
    (ahead) => {
      let inHalf = 0
      let inNinety = 0
      const runs = 180
      for (let seed = 1; seed <= runs; seed++) {
        const random = seededRandom(seed * 13)
        const past = seed % 2 === 0 ? 240 : 800
        const noise = dailyNoise(random, past + ahead + 1, 0.08, 0.6 ** (1 / 7))
        const swing = seed % 3 === 0 ? 0.15 : 0.04
        const phase = 2 * Math.PI * random()
        const perYear = 0.15 * normalFrom(random)
        const at = (d: number): number =>
          6.5 +
          (perYear * d) / YEAR +
          swing * Math.sin((2 * Math.PI * d) / YEAR + phase) +
          noise[d]!
        const outlook = forecastBand(series(past, at), null, { at: DAY_ONE + past * DAY })
        if (outlook.status !== 'ok') throw new Error(outlook.have)
        const h = Math.round(ahead / 7) - 1
        const truth = at(past + ahead)
        const [q05, q25, , q75, q95] = outlook.fan
        if (truth >= q25[h]! && truth <= q75[h]!) inHalf++
        if (truth >= q05[h]! && truth <= q95[h]!) inNinety++
      }
      // The inner shade promises half of them, the outer nine of ten.
      expect(inHalf / runs).toBeGreaterThanOrEqual(0.4)
      expect(inHalf / runs).toBeLessThanOrEqual(0.72)
      expect(inNinety / runs).toBeGreaterThanOrEqual(0.84)
      expect(inNinety / runs).toBeLessThanOrEqual(0.99)
    },
  )

  test.each([30, 90])(
    '%i days ahead its fans hold what they say with a treatment at work, fresh or months old',
    (ahead) => {
      let inHalf = 0
      let inNinety = 0
      const runs = 200
      for (let seed = 1; seed <= runs; seed++) {
        const random = seededRandom(seed * 29)
        const past = seed % 2 === 0 ? 240 : 800
        const noise = dailyNoise(random, past + ahead + 1, 0.08, 0.6 ** (1 / 7))
        const phase = 2 * Math.PI * random()
        const dose = past - Math.floor(150 * random())
        const toward = random() < 0.5 ? -1 : 1
        const size = toward * (0.3 + 0.5 * random())
        const half = 10 + 40 * random()
        const at = (d: number): number =>
          6.5 +
          0.08 * Math.sin((2 * Math.PI * d) / YEAR + phase) +
          (d < dose ? 0 : size * (1 - 2 ** (-(d - dose) / half))) +
          noise[d]!
        const from = DAY_ONE + dose * DAY
        const outlook = forecastBand(series(past, at), null, {
          at: DAY_ONE + past * DAY,
          breaks: [{ at: from, until: from + 180 * DAY, toward }],
        })
        if (outlook.status !== 'ok') throw new Error(outlook.have)
        const h = Math.round(ahead / 7) - 1
        const truth = at(past + ahead)
        const [q05, q25, , q75, q95] = outlook.fan
        if (truth >= q25[h]! && truth <= q75[h]!) inHalf++
        if (truth >= q05[h]! && truth <= q95[h]!) inNinety++
      }
      expect(inHalf / runs).toBeGreaterThanOrEqual(0.4)
      expect(inHalf / runs).toBeLessThanOrEqual(0.65)
      expect(inNinety / runs).toBeGreaterThanOrEqual(0.8)
      expect(inNinety / runs).toBeLessThanOrEqual(0.99)
    },
  )

  test('a treatment years ago is neither season nor wandering', () => {
    const noise = dailyNoise(seededRandom(8), 900, 0.03, 0.9)
    const bed = (d: number): number => 6 + (d >= 400 ? 0.9 : 0) + noise[d]!
    const at = DAY_ONE + 900 * DAY
    const wide = (breaks: readonly { at: number; until: number }[]): number => {
      const outlook = forecastBand(series(900, bed), null, { at, breaks })
      if (outlook.status !== 'ok') throw new Error(outlook.have)
      return outlook.fan[4][12]! - outlook.fan[0][12]!
    }
    const dose = DAY_ONE + 400 * DAY
    expect(wide([{ at: dose, until: dose + 60 * DAY }])).toBeLessThan(0.8 * wide([]))
  })

  test('a bed outside its band is not told to stay in it, whatever lies ahead', () => {
    const at = DAY_ONE + 120 * DAY
    for (const [level, side] of [
      [5.4, 'below'],
      [7.8, 'above'],
      [5.97, 'below'],
    ] as const) {
      const outlook = forecastBand(
        series(120, (d) => level + 0.01 * Math.sin(d)),
        BAND,
        { at },
      )
      if (outlook.status !== 'ok') throw new Error(outlook.have)
      expect(outlook).toMatchObject({ now: side, leaves: null })
      const words = forecastSentence(outlook, bed(), at)
      expect(words).toContain(`is ${side} its band`)
      expect(words).not.toContain('stays in')
    }
  })

  test('a falling bed leaves its band at the time its course says, with an earliest and a latest', () => {
    // 0.012 a day; the lower edge is 0.3 away.
    const falling = series(120, (d) => 6.3 + 0.0012 * (120 - d) + 0.01 * Math.sin(d))
    const outlook = forecastBand(falling, BAND, { at: DAY_ONE + 120 * DAY })
    if (outlook.status !== 'ok') throw new Error(outlook.have)
    expect(outlook.leaves?.edge).toBe('low')
    expect(outlook.leaves!.earliest).toBeLessThanOrEqual(outlook.leaves!.median ?? Infinity)
    const [first, , last] = outlook.chances
    expect(first!.outside).toBeLessThan(last!.outside)
    expect(forecastSentence(outlook, bed(), DAY_ONE + 120 * DAY)).toMatch(/below it/)
  })

  test('too few days, and a bed silent for weeks, are answered', () => {
    expect(
      forecastBand(
        series(20, () => 6.5),
        BAND,
        { at: DAY_ONE + 20 * DAY },
      ).status,
    ).toBe('insufficient')
    const silent = forecastBand(
      series(100, () => 6.5),
      BAND,
      { at: DAY_ONE + 150 * DAY },
    )
    expect(silent).toMatchObject({
      status: 'insufficient',
      need: 'a value of the last three weeks',
    })
  })

  test('a chance is never told as none or all', () => {
    const calm = forecastBand(
      series(300, (d) => 6.5 + 0.005 * Math.sin(d)),
      BAND,
      { at: DAY_ONE + 300 * DAY },
    )
    const words = forecastSentence(calm, bed(), DAY_ONE + 300 * DAY)
    expect(words).toContain("in 180 days' time")
    expect(words).not.toMatch(/\b0 %|\b100 %/)
  })
})

describe('days in the band', () => {
  test('are counted on each side, with the longest spell, and lie inside their interval', () => {
    const found = timeInBand(
      series(100, (d) => (d < 60 ? 6.5 : d < 90 ? 5.7 : 7.2)),
      BAND,
      DAY_ONE,
      DAY_ONE + 110 * DAY,
    )
    expect(found).toMatchObject({
      status: 'ok',
      inside: 60,
      below: 30,
      above: 10,
      unknown: 10,
      share: 0.6,
      longestOutside: { from: DAY_ONE + 60 * DAY, to: DAY_ONE + 90 * DAY, side: 'below' },
    })
    expect(inBandSentence(found)).toContain('In its band on 60 % of the known days')
    for (let level = 5.5; level < 7.5; level += 0.05) {
      const at = timeInBand(
        series(50, (d) => level + 0.1 * Math.sin(d), 0.15),
        BAND,
        DAY_ONE,
        DAY_ONE + 50 * DAY,
      )
      if (at.status !== 'ok') throw new Error(at.have)
      expect(at.low).toBeLessThanOrEqual(at.share)
      expect(at.high).toBeGreaterThanOrEqual(at.share)
    }
    expect(
      timeInBand(
        series(3, () => 6.5),
        BAND,
        DAY_ONE,
        DAY_ONE + 9 * DAY,
      ).status,
    ).toBe('insufficient')
  })
})

describe('a bed out of its spots', () => {
  const rows = (spots: readonly ((day: number) => number)[], change: Partial<SpotDay> = {}) =>
    spotDays(spots, 90, change)

  test('is their middle, does not jump when one falls silent, and leaves out one that left the others', () => {
    const { bed: all } = bedDays(rows([() => 6.2, () => 6.4, () => 6.6]))
    expect(all.value.at(-1)).toBeCloseTo(6.4, 2)
    const silent = bedDays(rows([() => 6.2, () => 6.4, (d) => (d < 70 ? 6.6 : NaN)])).bed
    expect(Math.abs(silent.value.at(-1)! - silent.value[60]!)).toBeLessThan(0.05)
    const apart = [
      ...rows([() => 6.2, () => 6.4]),
      ...rows([() => 6, () => 6, () => 8.5], { apart: true }).filter(({ spotId }) => spotId === 3),
    ]
    expect(bedDays(apart).bed.value.at(-1)).toBeCloseTo(6.3, 1)
    expect(bedDays([]).bed.day).toHaveLength(0)
    expect(bedDays(rows([() => 6.2], { hours: 5 })).bed.day).toHaveLength(0)
  })

  test('uneven spots need more of them, and the odd one is named', () => {
    const even = bedDays(rows([() => 6.4, () => 6.42, () => 6.38, () => 6.4])).needed
    const uneven = bedDays(rows([() => 6.0, () => 6.4, () => 6.8, () => 6.5])).needed
    expect(uneven.needed).toBeGreaterThan(even.needed)
    expect(even.halfWidth).toBeLessThan(uneven.halfWidth)
    const odd = bedDays(rows([() => 6.4, () => 6.42, () => 6.38, () => 7.3])).needed
    expect(odd.outlying).toMatchObject({ spotId: 4 })
    expect(odd.outlying!.by).toBeCloseTo(0.9, 1)
    expect(even.outlying).toBeNull()
  })
})
