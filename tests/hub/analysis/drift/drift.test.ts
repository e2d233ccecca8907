import { describe, expect, test } from 'vitest'
import { withoutCommonWobble } from '#hub/analysis/aggregate/without-common-wobble.ts'
import { electrodeDrift } from '#hub/analysis/drift/electrode-drift.ts'
import { electrodeWords } from '#hub/analysis/drift/electrode-words.ts'
import { sampleWitness } from '#hub/analysis/drift/sample-witness.ts'
import { soilTrend } from '#hub/analysis/drift/soil-trend.ts'
import { trendWords } from '#hub/analysis/drift/trend-words.ts'
import { DAY } from '#hub/model/clock.ts'
import { seededRandom } from '#tests/support/random.ts'
import { DAY_ONE, dailyNoise, normalFrom, series } from '#tests/support/slow-series.ts'

const YEAR = 365.25
/** A week's correlation of 0.6 or 0.85 as a day's. */
const PHI = { '0.6': 0.6 ** (1 / 7), '0.85': 0.85 ** (1 / 7) } as const

function bedYears(seed: number, years: number, phi: keyof typeof PHI, perYear: number, sd = 0.08) {
  const random = seededRandom(seed)
  const days = Math.round(years * YEAR)
  const noise = dailyNoise(random, days, sd, PHI[phi])
  const swing = 0.05 + 0.2 * random()
  const phase = 2 * Math.PI * random()
  return series(
    days,
    (d) =>
      6.4 + (perYear * d) / YEAR + swing * Math.sin((2 * Math.PI * d) / YEAR + phase) + noise[d]!,
  )
}

describe('the trend of a bed', () => {
  // Targets: the design's table of operating characteristics; the coverage of plain least squares there is 0.49 to 0.70.
  test.each([
    ['0.6', 2, 0.91],
    ['0.6', 3, 0.91],
    ['0.85', 3, 0.88],
  ] as const)(
    'weekly correlation %s, %i years: its 95 %% interval holds the truth',
    (phi, years, least) => {
      let covered = 0
      const runs = 200
      for (let seed = 1; seed <= runs; seed++) {
        const truth = 0.3 * (seededRandom(seed * 31)() - 0.5)
        const trend = soilTrend(bedYears(seed * 17 + years, years, phi, truth))
        if (trend.status !== 'ok') throw new Error(trend.have)
        if (trend.low <= truth && truth <= trend.high) covered++
      }
      expect(covered / runs).toBeGreaterThanOrEqual(least)
    },
  )

  test('a fall is told with its rate, its season found, and a year is too short', () => {
    const days = Math.round(3 * YEAR)
    const trend = soilTrend(
      series(
        days,
        (d) =>
          6.5 -
          (0.15 * d) / YEAR +
          0.2 * Math.cos((2 * Math.PI * (DAY_ONE / DAY + d - 60)) / YEAR) +
          0.01 * Math.sin(d),
      ),
    )
    if (trend.status !== 'ok') throw new Error(trend.have)
    expect(trend.verdict).toBe('falling')
    expect(trend.perYear).toBeCloseTo(-0.15, 1)
    expect(trend.seasonSwing).toBeCloseTo(0.4, 1)
    expect(Math.abs(trend.seasonHighestDay - 60)).toBeLessThan(20)
    expect(soilTrend(series(365, () => 6.5))).toMatchObject({ status: 'insufficient' })
    expect(soilTrend(series(0, () => 6.5))).toMatchObject({ have: 'no whole week of readings' })
  })

  test('a treatment in the middle is a step, not a trend', () => {
    const days = Math.round(2.5 * YEAR)
    const noise = dailyNoise(seededRandom(3), days, 0.05, PHI['0.6'])
    const bed = series(days, (d) => 6 + (d >= 400 ? 0.8 : 0) + noise[d]!)
    const naive = soilTrend(bed)
    const aware = soilTrend(bed, { steps: [DAY_ONE + 400 * DAY] })
    if (naive.status !== 'ok' || aware.status !== 'ok') throw new Error('too short')
    expect(naive.perYear).toBeGreaterThan(0.2)
    expect(aware.steps).toBe(1)
    expect(aware.low).toBeLessThan(0)
    expect(aware.high).toBeGreaterThan(0)
  })
})

describe('the drift of an electrode', () => {
  test('45 days beside two other spots: the interval holds the truth and is no wider than it must be', () => {
    let covered = 0
    let width = 0
    const runs = 200
    for (let seed = 1; seed <= runs; seed++) {
      const random = seededRandom(seed)
      const drift = (): number => 0.09 + 0.08 * normalFrom(random)
      const own = drift()
      const probe = (rate: number) => {
        const noise = dailyNoise(random, 45, 0.03, 0.7)
        return series(45, (d) => 6.4 + (rate * d) / 30 + noise[d]!)
      }
      const peers = [probe(drift()), probe(drift())]
      const found = electrodeDrift(probe(own), peers, DAY_ONE)
      if (found.status !== 'ok') throw new Error(found.have)
      if (found.low <= own && own <= found.high) covered++
      width += (found.high - found.low) / 2
    }
    expect(covered / runs).toBeGreaterThanOrEqual(0.93)
    expect(width / runs).toBeLessThanOrEqual(0.2)
  })

  test('alone, or for a week, nothing is claimed', () => {
    const own = series(60, () => 6.4)
    expect(electrodeDrift(own, [], DAY_ONE)).toMatchObject({
      status: 'insufficient',
      have: 'no other spot to compare with',
    })
    expect(
      electrodeDrift(
        series(7, () => 6),
        [series(7, () => 6)],
        DAY_ONE,
      ).status,
    ).toBe('insufficient')
  })
})

describe('samples as a witness', () => {
  const sample = (day: number, ph: number, method: 'laboratory' | 'hand meter' = 'laboratory') => ({
    at: DAY_ONE + (day + 0.5) * DAY,
    ph,
    method,
  })

  test('a bed whose probes drift away from the laboratory together is told so; one that keeps its distance is not', () => {
    const drifting = series(400, (d) => 6.4 + (0.1 * d) / 30)
    const days = [10, 90, 180, 270, 380]
    const found = sampleWitness(
      drifting,
      days.map((d, i) => sample(d, 6.3 + 0.03 * (i % 2))),
    )
    expect(found).toMatchObject({ status: 'ok', method: 'laboratory', samples: 5, drifts: true })
    if (found.status === 'ok') expect(found.per30Days).toBeCloseTo(0.1, 1)
    const falling = series(400, (d) => 6.4 - (0.1 * d) / 30)
    const steady = sampleWitness(
      falling,
      days.map((d) => sample(d, 6.2 - (0.1 * d) / 30)),
    )
    expect(steady).toMatchObject({ status: 'ok', drifts: false })
    if (steady.status === 'ok') expect(steady.offset).toBeCloseTo(0.2, 1)
  })

  test('methods are never mixed, and two samples are none', () => {
    const bed = series(300, () => 6.4)
    const mixed = sampleWitness(bed, [
      sample(10, 6.3),
      sample(150, 6.1, 'hand meter'),
      sample(290, 6.2),
    ])
    expect(mixed).toMatchObject({ status: 'insufficient' })
    expect(sampleWitness(bed, [])).toMatchObject({ have: 'no sample beside a bed value' })
  })

  test('without a common drift it claims one in no more than one of twenty gardens', () => {
    let claimed = 0
    for (let seed = 1; seed <= 400; seed++) {
      const random = seededRandom(seed)
      const samples = Array.from({ length: 3 + (seed % 5) }, (_, i) =>
        sample(20 + i * 70, 6.3 + 0.12 * normalFrom(random)),
      )
      const found = sampleWitness(
        series(600, () => 6.4),
        samples,
      )
      if (found.status === 'ok' && found.drifts) claimed++
    }
    expect(claimed / 400).toBeLessThanOrEqual(0.05)
  })
})

describe('wobble that beds share', () => {
  const days = 300
  const garden = (seed: number, share: number) => {
    const random = seededRandom(seed)
    const common = dailyNoise(random, days, 0.1, 0.7)
    const bed = (own: number) => {
      const noise = dailyNoise(random, days, 0.03, 0.5)
      return series(days, (d) => 6.4 + own * common[d]! + noise[d]!)
    }
    return { own: bed(share), others: [bed(1), bed(1), bed(1)] }
  }

  test('is taken out where the others show it, and the slow course stays', () => {
    const { own, others } = garden(1, 1)
    const calm = withoutCommonWobble(own, others)
    expect(calm.took).toBeGreaterThan(0.5)
    expect(calm.from).toEqual([0, 1, 2])
    const spread = (of: Float64Array): number => {
      const mean = of.reduce((a, b) => a + b, 0) / of.length
      return Math.sqrt(of.reduce((a, b) => a + (b - mean) ** 2, 0) / of.length)
    }
    expect(spread(calm.series.value)).toBeLessThan(0.75 * spread(own.value))
    const rising = { ...own, value: own.value.map((v, d) => v + 0.002 * d) }
    const after = withoutCommonWobble(rising, others).series.value
    expect(after.at(-1)! - after[0]!).toBeGreaterThan(0.4)
  })

  test('is left where the bed goes its own way, or nobody is there to compare with', () => {
    const alone = garden(2, 0)
    expect(withoutCommonWobble(alone.own, alone.others)).toMatchObject({
      took: 0,
      series: alone.own,
    })
    expect(withoutCommonWobble(alone.own, alone.others.slice(0, 1)).took).toBe(0)
    expect(
      withoutCommonWobble(
        series(30, () => 6),
        [series(30, () => 6), series(30, () => 6)],
      ).took,
    ).toBe(0)
  })
})

test('the words say what is known, whose drift it is, and never the opposite of the numbers', () => {
  const none = { status: 'insufficient', have: 'no sample', need: 'samples' } as const
  const witnesses = { samples: none, wobble: { took: 0.4, beds: ['Moss', 'Fern'] } }
  const wide = soilTrend(bedYears(5, 1.4, '0.85', 0, 0.3))
  if (wide.status !== 'ok') throw new Error(wide.have)
  expect(trendWords(wide, [], 0, witnesses).sentence).toContain('cannot be told yet')
  const falling = soilTrend(bedYears(6, 3, '0.6', -0.3))
  const words = trendWords(falling, [], 1, witnesses)
  expect(words.sentence).toMatch(
    /^Apart from the season the bed falls by 0\.\d\d ± 0\.\d\d pH a year\./,
  )
  expect(words.sentence).toContain('work of what was put on')
  expect(words.grounds.join(' ')).toContain(
    '40 % of the wobble from day to day is shared with Moss and Fern',
  )
  const drift = {
    status: 'ok',
    per30Days: 0.4,
    low: 0.25,
    high: 0.55,
    days: 45,
    peers: 2,
    drifts: true,
  } as const
  expect(electrodeWords({ probe: 'fern1', drift }, wide).verdict).toBe('electrode drifts')
  expect(electrodeWords({ probe: 'fern1', drift }, falling).verdict).toBe('both')
})
