import { describe, expect, test } from 'vitest'
import { withoutCommonWobble } from '#hub/analysis/aggregate/without-common-wobble.ts'
import { calibrationJumps } from '#hub/analysis/drift/calibration-jumps.ts'
import { electrodeDrift } from '#hub/analysis/drift/electrode-drift.ts'
import { electrodeWords } from '#hub/analysis/drift/electrode-words.ts'
import { likeSeason } from '#hub/analysis/drift/like-season.ts'
import { sampleWitness } from '#hub/analysis/drift/sample-witness.ts'
import { soilTrend } from '#hub/analysis/drift/soil-trend.ts'
import { trendWords } from '#hub/analysis/drift/trend-words.ts'
import { arRegression } from '#hub/analysis/stats/ar-regression.ts'
import { harmonics } from '#hub/analysis/stats/harmonics.ts'
import { DAY } from '#hub/model/clock.ts'
import { seededRandom } from '#tests/support/random.ts'
import { DAY_ONE, dailyNoise, normalFrom, series } from '#tests/support/slow-series.ts'
import { NOTTINGHAM } from '../stats/nottingham.ts'

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
    const aware = soilTrend(bed, { breaks: [{ at: DAY_ONE + 400 * DAY }] })
    if (naive.status !== 'ok' || aware.status !== 'ok') throw new Error('too short')
    expect(naive.perYear).toBeGreaterThan(0.2)
    expect(aware.steps).toBe(1)
    expect(aware.low).toBeLessThan(0)
    expect(aware.high).toBeGreaterThan(0)
  })
})

describe('a trend around treatments', () => {
  const days = Math.round(3 * YEAR)
  /** Works over months, as sulfur does: 0.6 down with a half-time of 40 days. */
  const sulfur = (d: number, from: number): number =>
    d < from ? 0 : -0.6 * (1 - 2 ** (-(d - from) / 40))

  test('a treatment at work is not told as a drift of the soil, wherever it lies in the record', () => {
    const runs = 120
    let naive = 0
    let aware = 0
    let held = 0
    let told = 0
    for (let seed = 1; seed <= runs; seed++) {
      const from = 100 + Math.floor(900 * seededRandom(seed)())
      const noise = dailyNoise(seededRandom(seed * 5 + 1), days, 0.08, PHI['0.6'])
      const bed = series(
        days,
        (d) => 6.6 + 0.1 * Math.sin((2 * Math.PI * d) / YEAR) + sulfur(d, from) + noise[d]!,
      )
      const at = DAY_ONE + from * DAY
      const without = soilTrend(bed)
      const trend = soilTrend(bed, { breaks: [{ at, until: at + 180 * DAY }] })
      if (without.status !== 'ok' || trend.status !== 'ok') throw new Error('too short')
      naive += Math.abs(without.perYear) / runs
      aware += Math.abs(trend.perYear) / runs
      if (trend.low <= 0 && trend.high >= 0) held++
      if (trend.verdict !== 'steady') told++
    }
    expect(aware).toBeLessThan(0.05)
    expect(naive).toBeGreaterThan(4 * aware)
    expect(held / runs).toBeGreaterThanOrEqual(0.88)
    expect(told / runs).toBeLessThanOrEqual(0.12)
  })

  test('one that went on last month cuts the record; where too little is left, nothing is claimed', () => {
    const at = DAY_ONE + (days - 40) * DAY
    const bed = series(days, (d) => 6.6 + sulfur(d, days - 40) + 0.01 * Math.sin(d))
    const trend = soilTrend(bed, { breaks: [{ at, until: at + 180 * DAY }] })
    if (trend.status !== 'ok') throw new Error(trend.have)
    expect(trend).toMatchObject({ verdict: 'steady', steps: 0 })
    expect(trend.to).toBeLessThan(at)
    const short = series(500, (d) => 6.6 + sulfur(d, 400))
    const early = DAY_ONE + 400 * DAY
    expect(soilTrend(short, { breaks: [{ at: early, until: early + 180 * DAY }] })).toMatchObject({
      status: 'insufficient',
    })
  })
})

test('three years: half-widths stay within what the design asks for, and like months agree', () => {
  let width = 0
  let agree = 0
  const runs = 100
  for (let seed = 1; seed <= runs; seed++) {
    const trend = soilTrend(bedYears(seed * 41, 3.1, '0.6', -0.3, 0.1))
    if (trend.status !== 'ok') throw new Error(trend.have)
    width += (trend.high - trend.low) / 2 / runs
    if (trend.audit !== null && Math.abs(trend.audit.perYear + 0.3) < 0.1) agree++
  }
  expect(width).toBeLessThanOrEqual(0.04)
  expect(agree / runs).toBeGreaterThan(0.9)
})

// R 4.2.2: arima(nottem, order = c(1, 0, 0), xreg = year and two harmonics), maximum likelihood: correlation 0.1950
// (0.0635); estimate and standard error of trend per year, cos, sin, cos 2, sin 2.
test('trend, season and correlation of Nottingham come out as by maximum likelihood', () => {
  const month = Float64Array.from(NOTTINGHAM, (_, i) => i)
  const fit = arRegression(
    [month.map(() => 1), month.map((m) => m / 12), ...harmonics(month, 12, 2)],
    NOTTINGHAM,
    month,
  )
  const want = [
    [0.054597, 0.0308938],
    [-11.469858, 0.2427321],
    [-1.376804, 0.2433027],
    [1.258701, 0.2214325],
    [0.822334, 0.2216528],
  ] as const
  for (const [k, [beta, se]] of want.entries()) {
    expect(Math.abs(fit.beta[k + 1]! - beta)).toBeLessThan(0.03 * se)
    // Wider by the correction of the correlation, and by the columns that were fitted.
    expect(fit.se[k + 1]! / se).toBeGreaterThan(0.99)
    expect(fit.se[k + 1]! / se).toBeLessThan(1.08)
  }
  expect(Math.abs(fit.rho - 0.195)).toBeLessThan(0.0635)
})

describe('like weeks a year apart', () => {
  test('hold the truth in 92 of 100, season or not', () => {
    let covered = 0
    const runs = 400
    for (let seed = 1; seed <= runs; seed++) {
      const random = seededRandom(seed * 19)
      const past = 365 + 50 + Math.floor(80 * random())
      const noise = dailyNoise(random, past, 0.1, PHI['0.6'])
      const truth = 0.3 * normalFrom(random)
      const phase = 6 * random()
      const found = likeSeason(
        series(
          past,
          (d) =>
            6.4 +
            (d >= 364 ? truth : 0) +
            0.25 * Math.sin((2 * Math.PI * d) / YEAR + phase) +
            noise[d]!,
        ),
      )
      if (found.status !== 'ok') throw new Error(found.have)
      if (found.low <= truth && truth <= found.high) covered++
    }
    expect(covered / runs).toBeGreaterThanOrEqual(0.92)
  })

  test('are not compared across a treatment, nor with too few of them', () => {
    const bed = series(450, (d) => (d > 300 ? 7 : 6.4))
    expect(likeSeason(bed, [{ at: DAY_ONE + 301 * DAY }])).toMatchObject({
      have: 'the level was moved between these weeks and the same weeks a year ago',
    })
    expect(likeSeason(series(380, () => 6)).status).toBe('insufficient')
    const found = likeSeason(bed)
    const words = trendWords(soilTrend(bed), [], {
      at: DAY_ONE + 450 * DAY,
      electrodes: [],
      samples: { status: 'insufficient', have: '', need: '' },
      wobble: { took: 0, beds: [] },
      likeSeason: found,
    })
    expect(words.sentence).toMatch(/a year ago it read 0\.60 ± 0\.\d\d pH lower than now/)
  })
})

describe('what calibrations took away', () => {
  const visits = [0, 45, 90, 140, 185].map((d) => DAY_ONE + d * DAY + 3600_000 * 10)
  const sawtooth = (rate: number, random: () => number) => {
    const noise = dailyNoise(random, 220, 0.04, 0.6)
    return series(220, (d) => {
      const last = [0, 45, 90, 140, 185].findLast((v) => v <= d - 0.5) ?? 0
      return 6.4 + (rate * (d - last)) / 30 + noise[d]!
    })
  }

  test('tells the drift of a lone electrode, its interval holding the truth', () => {
    let covered = 0
    const runs = 200
    for (let seed = 1; seed <= runs; seed++) {
      const random = seededRandom(seed * 3)
      const truth = 0.09 + 0.08 * normalFrom(random)
      const found = calibrationJumps(sawtooth(truth, random), visits)
      if (found.status !== 'ok') throw new Error(found.have)
      expect(found.jumps).toBe(4)
      if (found.low <= truth && truth <= found.high) covered++
    }
    expect(covered / runs).toBeGreaterThanOrEqual(0.93)
  })

  test('needs two calibrations with readings around the later one', () => {
    const one = sawtooth(0.1, seededRandom(1))
    expect(calibrationJumps(one, visits.slice(0, 1)).status).toBe('insufficient')
    expect(calibrationJumps(one, []).status).toBe('insufficient')
  })
})

test('samples soon and long after calibrations show what the electrodes share although each calibration ends it', () => {
  const visits = [0, 60, 120, 180, 240, 300].map((d) => DAY_ONE + d * DAY)
  const bed = series(360, (d) => 6.4 + (0.15 * (d % 60)) / 30)
  const samples = [5, 55, 70, 110, 185, 235, 310, 350].map((d) => ({
    at: DAY_ONE + (d + 0.5) * DAY,
    ph: 6.3,
    method: 'laboratory' as const,
  }))
  const found = sampleWitness(bed, samples, [visits])
  expect(found).toMatchObject({ status: 'ok', drifts: true })
  if (found.status === 'ok') expect(found.per30Days).toBeCloseTo(0.15, 1)
  // By the calendar alone there is nothing to be seen.
  const blind = sampleWitness(bed, samples)
  if (blind.status === 'ok') expect(Math.abs(blind.per30Days)).toBeLessThan(0.03)
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

  test('a probe that is long gone is no peer', () => {
    const own = series(60, (d) => 6.4 + 0.002 * d)
    const found = electrodeDrift(own, [series(60, () => 6.4), series(10, () => 6.4)], DAY_ONE)
    expect(found).toMatchObject({ status: 'ok', peers: 1 })
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
    // One that moves closely with it is company enough; one that does not is left out of the company.
    const close = garden(3, 1)
    expect(withoutCommonWobble(close.own, close.others.slice(0, 1)).took).toBeGreaterThan(0.4)
    expect(withoutCommonWobble(close.own, [...close.others.slice(0, 2), alone.own]).from).toEqual([
      0, 1,
    ])
    expect(
      withoutCommonWobble(
        series(30, () => 6),
        [series(30, () => 6), series(30, () => 6)],
      ).took,
    ).toBe(0)
  })
})

describe('the words', () => {
  const none = { status: 'insufficient', have: 'no sample', need: 'samples' } as const
  const at = DAY_ONE + Math.round(3 * YEAR) * DAY
  const checked = { since: at - 10 * DAY, drift: none }
  const witnesses = {
    at,
    electrodes: [checked],
    samples: none,
    wobble: { took: 0.4, beds: ['Moss', 'Fern'] },
    likeSeason: none,
  }
  const falling = soilTrend(bedYears(6, 3, '0.6', -0.3))
  const wide = soilTrend(bedYears(5, 1.4, '0.85', 0, 0.3))

  test('say what is known, and never the opposite of the numbers', () => {
    if (wide.status !== 'ok') throw new Error(wide.have)
    expect(trendWords(wide, [], witnesses).sentence).toContain('cannot be told yet')
    const sulfur = { at: DAY_ONE + 200 * DAY, material: 'sulfur', direction: 'lowers' } as const
    const words = trendWords(falling, [sulfur], witnesses)
    expect(words.sentence).toMatch(
      /^Apart from the season the bed falls by 0\.\d\d ± 0\.\d\d pH a year\./,
    )
    expect(words.sentence).toContain('the work of sulfur')
    const lime = { ...sulfur, material: 'lime', direction: 'raises' } as const
    expect(trendWords(falling, [lime], witnesses).sentence).toContain('lime wearing off')
    expect(words.grounds.join(' ')).toContain(
      '40 % of the wobble from day to day is shared with Moss and Fern',
    )
    const later = trendWords(falling, [], { ...witnesses, at: at + 140 * DAY })
    expect(later.sentence).toMatch(/^Until 2\d weeks ago, apart from the season, the bed fell by/)
  })

  test('do not call the work of electrodes nobody calibrated a trend of the soil', () => {
    const rising = soilTrend(bedYears(7, 3, '0.6', 0.4))
    const electrodes = [{ since: null, drift: none }]
    expect(trendWords(rising, [], { ...witnesses, electrodes }).sentence).toContain(
      'electrodes alone can do that',
    )
    expect(trendWords(rising, [], witnesses).sentence).toContain('laboratory sample')
  })

  test('tell electrode, soil and both apart by neighbours, calibrations and samples', () => {
    const drift = {
      status: 'ok',
      per30Days: 0.4,
      low: 0.25,
      high: 0.55,
      days: 45,
      peers: 2,
      drifts: true,
    } as const
    const unsure = { ...drift, per30Days: 0.1, low: -0.1, high: 0.3, drifts: false }
    const sample = {
      status: 'ok',
      method: 'laboratory',
      samples: 6,
      offset: 0.1,
      others: [],
      per30Days: 0.001,
      low: -0.02,
      high: 0.022,
      drifts: false,
    } as const
    const away = { ...sample, per30Days: -0.024, low: -0.03, high: -0.018, drifts: true }
    const jumps = {
      status: 'ok',
      per30Days: 0.02,
      low: -0.03,
      high: 0.045,
      jumps: 5,
      newest: -0.03,
      at,
      drifts: false,
    } as const
    const steady = soilTrend(bedYears(9, 3, '0.6', 0, 0.02))
    const of = (
      change: object,
      trend: typeof falling,
      samples: typeof sample | typeof away | typeof none,
    ) =>
      electrodeWords(
        { probe: 'fern1', since: at - 10 * DAY, drift, jumps: none, ...change },
        trend,
        samples,
      ).verdict
    expect(of({}, wide, none)).toBe('electrode drifts')
    expect(of({}, falling, none)).toBe('both')
    expect(of({ drift: unsure }, falling, sample)).toBe('soil drifts')
    // The bed falls, and samples say that all its probes do.
    expect(of({ drift: unsure }, falling, away)).toBe('electrode drifts')
    expect(of({ drift: unsure, since: null }, falling, none)).toBe('cannot tell')
    // One spot alone: its calibrations are the only witness.
    expect(of({ drift: none, jumps }, steady, none)).toBe('steady')
    expect(of({ drift: none, jumps }, wide, none)).toBe('steady')
    expect(of({ drift: none, jumps }, falling, none)).toBe('soil drifts')
    expect(of({ drift: none }, steady, none)).toBe('cannot tell')
    // Neighbours and calibrations that contradict each other decide nothing.
    expect(of({ jumps }, steady, none)).toBe('cannot tell')
  })
})
