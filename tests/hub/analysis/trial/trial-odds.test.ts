import { expect, test } from 'vitest'
import type { DailySeries } from '#hub/analysis/aggregate/daily-series.ts'
import { trialPlan } from '#hub/analysis/trial/trial-plan.ts'
import { type TrialData, trialResult } from '#hub/analysis/trial/trial-result.ts'
import { DAY } from '#hub/model/clock.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { type GardenOptions, gardenSeries } from '../../../support/response-series.ts'

const RANDOM = seededRandom(5100)

/** A trial that ran to its end, on beds that react at once. */
function run(seed: string, options: GardenOptions, more: Partial<TrialData> = {}) {
  const garden = gardenSeries(RANDOM.split(seed), options)
  const days = options.weeksAfter * 7
  const trial: TrialData = {
    treated: garden.treated,
    untreated: garden.untreated,
    direction: 'changes',
    leastEffect: 0.3,
    startsAt: garden.startsAt,
    days,
    at: garden.startsAt + days * DAY,
    ...more,
  }
  return { ...garden, trial, result: trialResult(trial) }
}

function until(series: DailySeries, end: number): DailySeries {
  const n = series.day.filter((day) => day < end).length
  return {
    day: series.day.slice(0, n),
    value: series.value.slice(0, n),
    se: series.se.slice(0, n),
  }
}

const LAYOUTS = [
  { treated: 1, untreated: 1, weeksBefore: 26, weeksAfter: 26 },
  { treated: 2, untreated: 2, weeksBefore: 26, weeksAfter: 26 },
  { treated: 3, untreated: 3, weeksBefore: 26, weeksAfter: 26 },
  { treated: 1, untreated: 1, weeksBefore: 13, weeksAfter: 13 },
  { treated: 2, untreated: 3, weeksBefore: 52, weeksAfter: 52, kept: 0.9 },
]

test('where nothing happens a change is claimed in at most seven of a hundred trials', () => {
  const runs = 120
  let claimed = 0
  for (const [i, layout] of LAYOUTS.entries()) {
    for (let n = 0; n < runs; n++) {
      const { low, high } = run(`nothing ${i} ${n}`, layout).result.effect!
      if (low! > 0 || high! < 0) claimed++
    }
  }
  expect(claimed / (LAYOUTS.length * runs)).toBeLessThanOrEqual(0.07)
})

test.each(LAYOUTS)(
  'what the plan promises is found: $treated against $untreated, $weeksBefore weeks before',
  (layout) => {
    const runs = 80
    let found = 0
    for (let n = 0; n < runs; n++) {
      const seed = `power ${n}`
      const idle = run(seed, layout)
      const plan = trialPlan({
        treated: idle.treated.map((bed) => until(bed, idle.startsAt)),
        untreated: idle.untreated.map((bed) => until(bed, idle.startsAt)),
        spotSd: 0,
        spotsPerBed: 2,
        leastEffect: 0.3,
        days: layout.weeksAfter * 7,
      })
      const { effect } = plan.numbers!
      const { result } = run(seed, { ...layout, effect })
      if (result.effect!.low! > 0) found++
    }
    expect(found / runs).toBeGreaterThanOrEqual(0.75)
  },
)

test('the interval holds the true effect', () => {
  const runs = 200
  let held = 0
  for (let n = 0; n < runs; n++) {
    const { low, high } = run(`held ${n}`, { ...LAYOUTS[1]!, effect: 0.4 }).result.effect!
    if (low! <= 0.4 && 0.4 <= high!) held++
  }
  expect(held / runs).toBeGreaterThanOrEqual(0.93)
})

test('a constant on all beds, or on one bed, changes nothing', () => {
  const { trial, result } = run('constant', { ...LAYOUTS[1]!, effect: -0.4 })
  const up = (series: DailySeries, by: number): DailySeries => ({
    ...series,
    value: series.value.map((v) => v + by),
  })
  const all = trialResult({
    ...trial,
    treated: trial.treated.map((bed) => up(bed, 0.8)),
    untreated: trial.untreated.map((bed) => up(bed, 0.8)),
  })
  const one = trialResult({
    ...trial,
    treated: trial.treated.map((bed, i) => (i === 0 ? up(bed, -0.5) : bed)),
  })
  for (const again of [all, one]) {
    expect(again.effect!.value).toBeCloseTo(result.effect!.value!, 9)
    expect(again.effect!.high).toBeCloseTo(result.effect!.high!, 9)
    expect(again.verdict).toBe(result.verdict)
  }
})

const CLEAR = { ...LAYOUTS[1]!, sd: 0.03, keep: 0.3 }

test.each([
  ['raises', 0.5, 'supported'],
  ['changes', 0.5, 'supported'],
  ['lowers', -0.5, 'supported'],
  ['lowers', 0.5, 'contradicted'],
  ['raises', -0.5, 'contradicted'],
  ['raises', 0, 'no measurable effect'],
  ['changes', 0, 'no measurable effect'],
] as const)('that it %s, where it changed by %d, is %s', (direction, effect, verdict) => {
  const { result } = run('verdict', { ...CLEAR, effect }, { direction })
  expect(result.verdict).toBe(verdict)
  expect(result.early).toBe(false)
  if (verdict !== 'no measurable effect') return
  expect(result.notLargerThan).toBeGreaterThan(0)
  expect(result.notLargerThan).toBeLessThan(0.3)
  expect(result.sentence).toMatch(/not larger than 0\.\d\d pH/)
})

test('noise that leaves room for both is undecided', () => {
  const { result } = run('noisy', { ...LAYOUTS[3]!, sd: 0.4 }, { leastEffect: 0.1 })
  expect(result.verdict).toBe('undecided')
})

test('what is compared follows from start, length and material, not from what was seen', () => {
  const { trial, result } = run('windows', { ...CLEAR, effect: 0.5 }, { material: 'garden lime' })
  const { windows } = result
  // A known slow material is left a third of the trial; unknown ones four weeks.
  expect((windows.afterFrom - windows.startsAt) / DAY).toBe(56)
  const unknown = trialResult({ ...trial, material: 'seaweed' })
  expect((unknown.windows.afterFrom - windows.startsAt) / DAY).toBe(28)
  expect(windows.weeksCounted.every((week) => week < 0 || week >= 8)).toBe(true)
  expect(windows.weeksLeftOut.map(({ week }) => week)).toEqual([0, 1, 2, 3, 4, 5, 6, 7])
  expect(windows.until).toBe(trial.at)
  // Days after the planned end change nothing.
  const later = trialResult({ ...trial, at: trial.at + 300 * DAY })
  expect(later.effect).toEqual(result.effect)
})

test('a look before the planned end is said to be one', () => {
  const { trial } = run('early', { ...CLEAR, effect: 0.5 })
  const ahead = trialResult({ ...trial, at: trial.startsAt - DAY })
  expect(ahead.verdict).toBe('planned')
  const soon = trialResult({ ...trial, at: trial.startsAt + 30 * DAY })
  expect(soon.verdict).toBe('too early')
  expect(soon.effect).toBeNull()
  const half = trialResult({ ...trial, at: trial.startsAt + 90 * DAY })
  expect(half.early).toBe(true)
  expect(half.sentence).toMatch(/another 92 days/)
})

test('looking every month at trials in which nothing happens seldom finds anything', () => {
  const runs = 60
  let stopped = 0
  for (let n = 0; n < runs; n++) {
    const { trial } = run(`peeking ${n}`, LAYOUTS[1]!)
    const looks = [60, 90, 120, 150].map((day) =>
      trialResult({ ...trial, at: trial.startsAt + day * DAY }),
    )
    if (looks.some(({ verdict }) => verdict === 'supported')) stopped++
  }
  expect(stopped / runs).toBeLessThanOrEqual(0.05)
})

test('too little before or after is told with what is needed', () => {
  const short = run('short', { ...CLEAR, weeksBefore: 4 }).result
  expect(short.verdict).toBe('insufficient')
  expect(short.sentence).toMatch(/no bed with 8 weeks of pH before the start/)
  const { treated, untreated } = gardenSeries(RANDOM.split('plan'), { ...CLEAR, weeksBefore: 4 })
  const plan = trialPlan({
    treated: treated.map((bed) => until(bed, bed.day[28]!)),
    untreated: untreated.map((bed) => until(bed, bed.day[28]!)),
    spotSd: 0.1,
    spotsPerBed: 2,
    leastEffect: 0.3,
    days: 180,
  })
  expect(plan.status).toBe('insufficient')
  expect(plan.numbers).toBeNull()
})

test('more of everything never makes the smallest effect larger', () => {
  const { treated, untreated, startsAt } = run('more', LAYOUTS[2]!)
  const layout = {
    treated: treated.map((bed) => until(bed, startsAt)),
    untreated: untreated.map((bed) => until(bed, startsAt)),
    spotSd: 0.08,
    spotsPerBed: 2,
    leastEffect: 0.15,
    days: 180,
  }
  const plan = trialPlan(layout)
  const effects = plan.detectable.filter(({ days }) => days >= 60).map(({ effect }) => effect)
  expect(effects).toEqual(effects.toSorted((a, b) => b - a))
  const { error, factor, effect } = plan.numbers!
  expect(error * factor).toBeCloseTo(effect, 12)
  const coarser = trialPlan({ ...layout, leastEffect: 0.5 })
  expect(coarser.daysNeeded!).toBeLessThanOrEqual(plan.daysNeeded!)
  expect(coarser.bedsNeeded!).toBeLessThanOrEqual(plan.bedsNeeded!)
})
