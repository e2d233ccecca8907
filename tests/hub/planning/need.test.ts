import { describe, expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import { levelNow } from '#hub/planning/need/level-now.ts'
import { needOf } from '#hub/planning/need.ts'
import { eventOf, factsOf, NOW, sampleOf, treated } from './facts.ts'

const BAND = { low: 6, high: 7 }
const verdict = (ph: number, se: number, target: number | null = null): string =>
  needOf(factsOf({ ph, se, bed: { ownBand: BAND } }), target).verdict

describe('a bed against its band', () => {
  // The 90 % interval of 14 days with a standard error of 0.05 is plus or minus 0.093, of 0.2 plus or minus 0.37.
  test.each([
    [6.5, 0.05, 'none', 'inside'],
    [6.01, 0.2, 'none', 'inside, loosely'],
    [5.95, 0.05, 'none', 'a little outside, its interval reaches in'],
    [5.85, 0.05, 'raise', 'a little outside, all of the 90 % interval'],
    [7.15, 0.05, 'lower', 'a little outside, all of the 90 % interval'],
    [5.85, 0.1, 'none', 'a little outside, its interval reaches in'],
    [5.75, 0.15, 'raise', 'outside by more than 0.2, though its interval reaches in'],
    [7.25, 0.15, 'lower', 'outside by more than 0.2, though its interval reaches in'],
    [5.75, 0.3, 'cannot tell', 'outside by more than 0.2, but it may well be where it should'],
    [7.25, 0.3, 'cannot tell', 'outside by more than 0.2, but it may well be where it should'],
    [5, 0.3, 'raise', 'far outside'],
  ])('pH %d with a standard error of %d: %s, %s', (ph, se, expected) => {
    expect(verdict(ph, se)).toBe(expected)
  })

  test('the aim is 0.2 inside the near edge, never past the middle of the band', () => {
    const aim = (ph: number, band = BAND): number =>
      needOf(factsOf({ ph, bed: { ownBand: band } }), null).target!
    expect(aim(5.5)).toBeCloseTo(6.2)
    expect(aim(7.5)).toBeCloseTo(6.8)
    expect(aim(5.5, { low: 6, high: 6.2 })).toBeCloseTo(6.1)
    expect(aim(7, { low: 6, high: 6.2 })).toBeCloseTo(6.1)
  })

  test('the gardener may aim elsewhere inside the band, not outside', () => {
    const facts = factsOf({ ph: 5.5, bed: { ownBand: BAND } })
    const own = needOf(facts, 6.6)
    expect(own.target).toBe(6.6)
    expect(own.change).toBeCloseTo(1.1)
    const outside = needOf(facts, 7.5)
    expect(outside.target).toBeCloseTo(6.2)
    expect(outside.told[0]).toMatchObject({ effect: 'ask', settle: 'bed form' })
    expect(outside.told[0]!.sentence).toMatch(/pH 7\.5 lies outside the band 6\.0 to 7\.0/)
  })

  test('a bed that needs nothing changes by nothing', () => {
    expect(needOf(factsOf({ ph: 6.5, bed: { ownBand: BAND } }), 6.8)).toMatchObject({
      verdict: 'none',
      change: 0,
    })
  })
})

describe('the level of a bed', () => {
  test('the median of the last fourteen valid days, whatever older ones say', () => {
    const ph = [...Array.from({ length: 10 }, () => 7), ...Array.from({ length: 14 }, () => 5.5)]
    expect(levelNow(factsOf({ ph }))).toMatchObject({ value: 5.5, days: 14 })
  })

  test('days further back than thirty do not count', () => {
    const ph = [...Array.from({ length: 12 }, () => 5.5), ...Array.from({ length: 25 }, () => NaN)]
    expect(levelNow(factsOf({ ph }))!.days).toBe(4)
  })

  test('days do not average away what the spots have in common', () => {
    const level = levelNow(factsOf({ se: 0.2 }))!
    expect(level.half90).toBeGreaterThan(0.3)
    // A bed that jumps about from day to day is known less well than a steady one.
    const jumping = levelNow(
      factsOf({ se: 0.2, ph: Array.from({ length: 14 }, (_, i) => 5.5 + (i % 2 ? 0.4 : -0.4)) }),
    )!
    expect(jumping.half90).toBeGreaterThan(level.half90 * 1.7)
  })

  test('only days since a change of level that stayed', () => {
    const kept = eventOf({ state: 'kept', onset: NOW - 6 * DAY, cause: 'soil' })
    const ph = [...Array.from({ length: 14 }, () => 6.2), ...Array.from({ length: 6 }, () => 5.5)]
    const facts = factsOf({
      ph,
      assessment: { watch: { ...factsOf().assessment!.watch, events: [kept] } },
    })
    expect(levelNow(facts)).toMatchObject({ value: 5.5, days: 5 })
    const need = needOf(facts, null)
    expect(need.verdict).toBe('cannot tell')
    expect(need.told[0]!.sentence).toMatch(
      /5 valid days of pH since its level changed on 6 May 2027; 10 are needed.* 5 more to go/,
    )
  })

  test('only days since a calibration that took drift away', () => {
    const calibrated = {
      spotId: 1,
      probe: 'hern1',
      since: NOW - 8 * DAY,
      drift: { status: 'insufficient', have: '', need: '' },
      jumps: {
        status: 'ok',
        per30Days: 0.1,
        low: 0.05,
        high: 0.15,
        jumps: 1,
        newest: -0.3,
        at: NOW - 8 * DAY,
        drifts: true,
      },
    } as const
    expect(levelNow(factsOf({ study: { electrodes: [calibrated] } }))!.days).toBe(5)
    const small = { ...calibrated, jumps: { ...calibrated.jumps, newest: -0.05 } }
    expect(levelNow(factsOf({ study: { electrodes: [small] } }))!.days).toBe(14)
  })
})

describe('a sample held against the probes', () => {
  test('is the newest of a kind that confirms', () => {
    const facts = factsOf({
      journal: [
        { ...sampleOf(5.4, 20), method: 'slurry 1:1' },
        sampleOf(5.6, 10),
        { ...sampleOf(6.5, 2), method: 'colour kit' },
      ],
    })
    expect(needOf(facts, null).confirmation).toMatchObject({ ph: 5.6, entryId: 2 })
  })

  test('what is usual for the method is no contradiction, from three pairs on', () => {
    const ph = Array.from({ length: 120 }, () => 5.5)
    const older = [100, 80, 65].map((days) => sampleOf(4.85, days))
    const apart = (pairs: number): number =>
      needOf(factsOf({ ph, journal: [...older.slice(0, pairs), sampleOf(4.85, 5)] }), null)
        .confirmation!.apart!
    expect(apart(3)).toBeCloseTo(0)
    expect(apart(2)).toBeCloseTo(-0.65)
  })

  test('that lies nearer to the aim than the probes: the smaller way counts', () => {
    // Probes at 5.5, the sample at 5.9: six tenths to go, not ten.
    const need = needOf(factsOf({ journal: [sampleOf(5.9, 5)] }), null)
    expect(need.from).toBeCloseTo(5.9)
    expect(need.change).toBeCloseTo(0.6)
    expect(need.sentence).toMatch(
      /By the newest sample it is at 5\.9 now; the smaller way counts\. It takes 0\.6 pH up/,
    )
    // The other way round the probes need less.
    const below = needOf(factsOf({ journal: [sampleOf(5.2, 5)] }), null)
    expect(below.from).toBeCloseTo(5.5)
    expect(below.change).toBeCloseTo(1)
  })

  test('that needs nothing by now leaves nothing to do, and it is said', () => {
    // A sample at 6.2 beside probes at 5.8, which have climbed to 6.05 since: 6.45 by the sample, the aim is 6.4.
    const ph = Array.from({ length: 45 }, (_, i) => (i < 20 ? 5.8 : 6.05))
    const facts = factsOf({
      ph,
      bed: { ownBand: { low: 6.3, high: 6.5 } },
      journal: [sampleOf(6.2, 35)],
    })
    const need = needOf(facts, null)
    expect(need.verdict).toBe('raise')
    expect(need.change).toBe(0)
    expect(need.sentence).toMatch(
      /By the newest sample it is at 6\.[45] now.* That would need nothing: another sample/,
    )
    expect(need.told[0]!.effect).toBe('ask')
  })

  test('moves with the probes since it was taken', () => {
    // At 5.9 beside probes at 5.7; these have sunk to 5.5 since.
    const ph = Array.from({ length: 40 }, (_, i) => (i < 20 ? 5.7 : 5.5))
    const need = needOf(factsOf({ ph, journal: [sampleOf(5.9, 30)] }), null)
    expect(need.from).toBeCloseTo(5.7)
  })

  test('is told with what it found and how far the probes are', () => {
    expect(needOf(factsOf({ journal: [sampleOf(5.6, 5)] }), null).grounds).toContain(
      'The newest sample that counts: laboratory, 7 May 2027, pH 5.6, 0.1 pH above the probes of those days.',
    )
  })

  test('far from the probes puts an all-clear in doubt, too', () => {
    const need = needOf(factsOf({ ph: 6.5, journal: [sampleOf(5.7, 5)] }), null)
    expect(need.verdict).toBe('none')
    expect(need.told[0]).toMatchObject({ effect: 'ask', settle: 'sample' })
    expect(need.told[0]!.sentence).toMatch(/0\.8 pH below the probes/)
    expect(needOf(factsOf({ ph: 6.5, journal: [] }), null).told).toHaveLength(1)
  })

  test('of days without a probe cannot be compared, and that is said', () => {
    const facts = factsOf({ journal: [sampleOf(5.5, 50)] })
    const need = needOf(facts, null)
    expect(need.confirmation!.apart).toBeNull()
    expect(need.told.some((t) => t.effect === 'warn' && /no valid day/.test(t.sentence))).toBe(true)
  })
})

describe('treatments that are still at work', () => {
  const limed = (days: number, grams: number | null): ReturnType<typeof needOf> =>
    needOf(factsOf({ journal: [treated('garden lime', days, grams), sampleOf(5.5, 2)] }), null)

  test('enough on the way: nothing is needed, and it is said why', () => {
    const need = limed(5, 9000)
    expect(need.verdict).toBe('none')
    expect(need.change).toBe(0)
    expect(need.sentence).toMatch(
      /Ground limestone put on earlier is expected to move it by another \+/,
    )
  })

  test('so much on the way that the bed leaves its band on the other side', () => {
    const warned = limed(5, 9000).told.find((t) => t.effect === 'warn')
    expect(warned?.sentence).toMatch(
      /expected to bring it to about pH 7\.7, outside its band 6\.3 to 7\.0/,
    )
    expect(limed(5, 5000).told.filter((t) => t.effect === 'warn')).toEqual([])
  })

  test('the longer ago the less is to come, and nothing after its highest point', () => {
    const coming = [1, 40, 80, 120].map((days) => limed(days, 2000).coming!.value)
    expect(coming).toEqual(coming.toSorted((a, b) => b - a))
    expect(limed(400, 2000).coming).toBeNull()
    // Usually lime is at its highest after 136 days (PAGANI2012); a slow one may take a year.
    expect(limed(150, 2000).coming!.value).toBe(0)
    expect(limed(150, 2000).coming!.high).toBeGreaterThan(0.02)
  })

  test('of an amount that was not written down the usual is taken, with all its doubt', () => {
    const { coming } = limed(1, null)
    expect(coming!.low).toBeLessThan(0.1)
    expect(coming!.high).toBeGreaterThan(0.7)
  })

  test('what works the other way is no reason for more', () => {
    const need = needOf(factsOf({ journal: [treated('sulfur', 200, 500), sampleOf(5.5, 2)] }), null)
    expect(need.coming!.value).toBeLessThan(0)
    expect(need.change).toBeCloseTo(6.5 - 5.5)
  })
})

test('sentences are plain: where the bed is, how sure, what it takes', () => {
  expect(needOf(factsOf(), null).sentence).toBe(
    'Heron Bed is at pH 5.5 (5.4 to 5.6, 14 valid days), below its band 6.3 to 7.0. It takes 1.0 pH up to come to 6.5.',
  )
  expect(needOf(factsOf({ ph: 6.5 }), null).sentence).toBe(
    'Heron Bed is at pH 6.5 (6.4 to 6.6, 14 valid days), inside its band 6.3 to 7.0. It needs nothing: keep it as it is.',
  )
  expect(needOf(factsOf({ unstudied: true }), null).sentence).toMatch(/Look again later/)
  expect(needOf(factsOf({ ph: [] }), null).sentence).toMatch(/no valid day of pH/)
})

test('an all-clear by the days before a sudden change is none', () => {
  const open = eventOf({ present: 1.5, size: 1.5, onset: NOW - 3_600_000 })
  const facts = factsOf({
    ph: 6.6,
    assessment: { watch: { ...factsOf().assessment!.watch, events: [open] } },
  })
  const need = needOf(facts, null)
  expect(need.verdict).toBe('cannot tell')
  expect(need.change).toBe(0)
  expect(need.sentence).toMatch(
    /^Heron Bed changed suddenly on .*, by \+1\.5 pH: .* Put nothing on/,
  )
  expect(needOf(factsOf({ ph: 6.6 }), null).verdict).toBe('none')
})

test('a bed without a probe is told to get one, not to wait', () => {
  const {
    verdict: said,
    sentence,
    told,
  } = needOf(factsOf({ unstudied: true, assessment: { spots: [] } }), null)
  expect(said).toBe('cannot tell')
  expect(sentence).toContain('has no probe that measures its pH')
  expect(told[0]).toMatchObject({ effect: 'ask' })
  expect(told[0]!.sentence).toMatch(/^No probe measures pH in Heron Bed\. Put one in/)
  // With one in it, it is a matter of time.
  expect(needOf(factsOf({ unstudied: true }), null).sentence).toContain('Look again later')
})
