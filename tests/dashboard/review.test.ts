import { describe, expect, test } from 'vitest'
import { amendmentBySlug } from '#hub/agronomy/amendments.ts'
import { DOSINGS } from '#hub/agronomy/dosing.ts'
import { planningSettings } from '#hub/api/schemas/planning.ts'
import { dayOf, dayStart, periodOf, usualPeriods } from '../../dashboard/src/parts/review/period.ts'
import { PRICED, priceDraft, pricesOf } from '../../dashboard/src/parts/review/price-draft.ts'
import {
  claimedDirection,
  costWords,
  dueWords,
  inBandWords,
  money,
  monthWords,
  periodWords,
} from '../../dashboard/src/parts/review/review-words.ts'
import { seasonDraft, seasonOf } from '../../dashboard/src/parts/review/season-draft.ts'
import { seasonShape } from '../../dashboard/src/parts/review/season-shape.ts'
import { triedIn } from '../../dashboard/src/parts/review/tried.tsx'
import { daysOf, phaseOf } from '../../dashboard/src/parts/trials/trial-words.ts'
import { inventedTrials } from '../support/findings-fixture.ts'

const DAY = 86_400_000
const zone = 'Europe/Lisbon'
const where = { zone, units: 'metric' } as const
/** Summer time in Lisbon: an hour ahead of UTC. */
const now = Date.UTC(2026, 5, 15, 23, 30)

describe('the period of a report', () => {
  test('days are those of the garden, to the very hour', () => {
    expect(dayOf(now, zone)).toBe('2026-06-16')
    expect(dayStart('2026-06-16', zone)).toBe(Date.UTC(2026, 5, 15, 23))
    // The clock goes forward on 29 March 2026: that day has 23 hours.
    const march = dayStart('2026-03-29', zone) ?? NaN
    expect((dayStart('2026-03-29', zone, 1) ?? NaN) - march).toBe(23 * 3_600_000)
  })

  test('left out it goes from the first of January to today, both inside', () => {
    const { period, errors } = periodOf({}, now, zone)
    expect(errors).toEqual([])
    expect(period).toEqual({
      days: { from: '2026-01-01', to: '2026-06-16' },
      from: Date.UTC(2026, 0, 1),
      to: Date.UTC(2026, 5, 16, 23),
    })
    expect(periodWords(period!, where)).toBe('1 Jan 2026 to 16 Jun 2026')
    expect(periodOf({ to: '2024-02-29' }, now, zone).period?.days.from).toBe('2024-01-01')
  })

  test.each([
    [{ from: '2026-02-30' }, 'from', /expected a day such as 2026-06-16, got '2026-02-30'/],
    [{ to: 'soon' }, 'to', /got 'soon'/],
    [{ from: '' }, 'from', /give a day/],
    [{ from: '2026-06-02', to: '2026-06-01' }, 'to', /before the first/],
    [{ from: '2010-01-01', to: '2026-06-01' }, 'from', /ten years/],
  ])('%j is refused beside its field', (asked, path, message) => {
    const { period, errors } = periodOf(asked, now, zone)
    expect(period).toBeNull()
    const said = errors.find((error) => error.path === path)
    expect(said?.message).toMatch(message)
  })

  test('one day is a period', () => {
    const { period } = periodOf({ from: '2026-06-01', to: '2026-06-01' }, now, zone)
    expect(period!.to - period!.from).toBe(DAY)
  })

  test('usual ones', () => {
    expect(usualPeriods(now, zone)).toEqual([
      { words: 'This year', from: '2026-01-01', to: '2026-06-16' },
      { words: 'Last year', from: '2025-01-01', to: '2025-12-31' },
      { words: 'Last 12 months', from: '2025-06-17', to: '2026-06-16' },
    ])
    const [, , leap] = usualPeriods(Date.UTC(2028, 1, 29, 12), zone)
    expect(leap).toMatchObject({ from: '2027-03-01', to: '2028-02-29' })
    const [, , turn] = usualPeriods(Date.UTC(2026, 11, 31, 12), zone)
    expect(turn).toMatchObject({ from: '2026-01-01', to: '2026-12-31' })
    for (const usual of usualPeriods(now, zone)) {
      expect(periodOf(usual, now, zone).errors).toEqual([])
    }
  })
})

describe('prices', () => {
  const settings = {
    season: { from: '03-15', to: '11-05' },
    currency: 'EUR',
    prices: [{ material: 'sulfur', perKg: 3.9 }],
  }

  test('every material that a dose is known of can have one, by the names of the hub', () => {
    expect(PRICED.map(({ slug }) => slug).toSorted()).toEqual(
      DOSINGS.map(({ slug }) => slug).toSorted(),
    )
    for (const { slug, name } of PRICED) expect(amendmentBySlug(slug).name).toBe(name)
  })

  test('the form gives what the hub takes, and the season stays', () => {
    const draft = priceDraft(settings, 'metric')
    expect(draft).toEqual({ currency: 'EUR', prices: { sulfur: '3.9' } })
    const read = pricesOf(
      {
        currency: ' eur ',
        prices: { ...draft.prices, 'wood-ash': '', 'ground-limestone': '0,85' },
      },
      settings,
      'metric',
    )
    expect(read.errors).toEqual([])
    expect(planningSettings.parse(read.settings)).toEqual({
      ...settings,
      prices: [
        { material: 'sulfur', perKg: 3.9 },
        { material: 'ground-limestone', perKg: 0.85 },
      ],
    })
  })

  test('by the pound: read and written back it is the same; untouched it is not rounded', () => {
    const draft = priceDraft(settings, 'us')
    expect(draft.prices['sulfur']).toBe('1.76901')
    expect(pricesOf(draft, settings, 'us').settings.prices).toEqual(settings.prices)
    const typed = pricesOf({ currency: 'USD', prices: { sulfur: '2' } }, settings, 'us')
    expect(typed.settings.prices[0]!.perKg).toBeCloseTo(2 / 0.45359237, 4)
    expect(priceDraft(typed.settings, 'us').prices['sulfur']).toBe('2')
  })

  test('what cannot be read is told beside its field', () => {
    const { errors } = pricesOf(
      { currency: '', prices: { sulfur: 'dear', 'wood-ash': '0', gypsum: '1' } },
      settings,
      'metric',
    )
    expect(errors.map(({ path }) => path)).toEqual(['sulfur', 'wood-ash', 'currency'])
  })

  test('without prices no currency is needed', () => {
    const read = pricesOf({ currency: '', prices: { sulfur: ' ' } }, settings, 'metric')
    expect(read).toEqual({ settings: { ...settings, currency: null, prices: [] }, errors: [] })
  })
})

describe('the growing season', () => {
  test('by the soil, or from day to day, also over the turn of the year', () => {
    expect(seasonOf(seasonDraft(null))).toEqual({ season: null, errors: [] })
    for (const season of [
      { from: '03-05', to: '11-30' },
      { from: '10-01', to: '04-30' },
    ]) {
      const { season: read, errors } = seasonOf(seasonDraft(season))
      expect(errors).toEqual([])
      expect(read).toEqual(season)
      expect(planningSettings.shape.season.parse(read)).toEqual(season)
    }
  })

  test.each(['', '0', '31', '1.5', 'first'])('day %j of April is refused', (fromDay) => {
    const draft = { ...seasonDraft({ from: '04-01', to: '10-31' }), fromDay }
    expect(seasonOf(draft).errors.map(({ path }) => path)).toEqual(['from'])
  })
})

describe('words', () => {
  test('money shows what its size leaves worth showing', () => {
    expect(money(1234.5, 'EUR', 'metric')).toBe('€1,235')
    expect(money(1.2, 'USD', 'us')).toBe('$1.20')
    expect(money(0.0312, 'EUR', 'metric')).toBe('€0.031')
    expect(money(0.0001, 'EUR', 'metric')).toBe('under €0.001')
    expect(costWords({ value: 0.4, low: 0.3, high: 0.7, currency: 'EUR' }, 'metric')).toBe(
      '€0.40 (€0.30 to €0.70)',
    )
    expect(costWords({ value: 0.4, low: 0.3, high: null, currency: 'EUR' }, 'metric')).toBe(
      '€0.40 (at least €0.30)',
    )
  })

  test('a date that is not sure is said to be about', () => {
    const [a, b, c] = [Date.UTC(2026, 8, 1), Date.UTC(2026, 9, 5), Date.UTC(2027, 2, 9)]
    const due = (earliest: number | null, typical: number | null, latest: number | null) =>
      dueWords({ earliest, typical, latest }, where)
    expect(due(a, b, c)).toBe('about Oct 2026, between Sept 2026 and Mar 2027')
    expect(due(a, b, null)).toBe('about Oct 2026, not before Sept 2026')
    expect(due(null, b, c)).toBe('about Oct 2026, by Mar 2027 at the latest')
    expect(due(null, b, null)).toBe('about Oct 2026')
    expect(due(a, null, null)).toBe('not before Sept 2026')
    expect(due(a, null, c)).toBe('between Sept 2026 and Mar 2027')
    expect(due(null, null, c)).toBe('by Mar 2027 at the latest')
    expect(due(null, null, null)).toBeNull()
    expect(dueWords(null, where)).toBeNull()
  })

  test('months, and their days in the band', () => {
    expect(monthWords('2026-02', 'metric')).toBe('Feb 2026')
    const month = {
      month: '2026-02',
      days: 26,
      median: 6.2,
      lowest: 6,
      highest: 6.4,
      inBand: 0,
      soilC: 9,
      waterL: 0,
    }
    expect(inBandWords(month, 'metric')).toBe('0 of\u00a026')
    expect(inBandWords({ ...month, inBand: null }, 'metric')).toBe('–')
    expect(inBandWords({ ...month, days: 0 }, 'metric')).toBe('–')
  })

  test('a claim has a direction only where the peak leaves no doubt of it', () => {
    expect(claimedDirection({ value: 0.5, low: 0.2, high: 0.8 })).toBe('raises')
    expect(claimedDirection({ value: -0.5, low: -0.8, high: -0.2 })).toBe('lowers')
    expect(claimedDirection({ value: 0.1, low: -0.2, high: 0.4 })).toBe('changes')
    expect(claimedDirection({ value: 0.5, low: null, high: null })).toBe('changes')
    expect(claimedDirection(null)).toBe('changes')
  })
})

describe('trials', () => {
  const [running, done] = inventedTrials(now)

  test('phases by the clock; given up is over', () => {
    expect(phaseOf(running!, now)).toBe('running')
    expect(phaseOf(running!, running!.endsAt)).toBe('over')
    expect(phaseOf(running!, running!.startsAt - 1)).toBe('planned')
    expect(phaseOf({ ...running!, givenUpAt: now }, now)).toBe('over')
    expect(daysOf(running!, now)).toEqual({ all: 120, gone: 96, left: 24 })
    expect(daysOf(running!, running!.endsAt + DAY)).toEqual({ all: 120, gone: 120, left: 0 })
    expect(daysOf(running!, running!.startsAt - DAY)).toEqual({ all: 120, gone: 0, left: 120 })
  })

  test('a bed is told of those that are over, on whichever side it was', () => {
    expect(triedIn([running!, done!], 2, now)).toEqual([done])
    expect(triedIn([running!, done!], 1, now)).toEqual([done])
    expect(triedIn([running!, done!], 3, now)).toEqual([])
  })
})

describe('the shape of a season', () => {
  const from = Date.UTC(2026, 0, 1)
  const day = (n: number): number => from + n * DAY
  const shape = (
    value: (number | null)[],
    days: number[] = value.map((_, i) => i),
    band: { low: number; high: number } | null = null,
  ) =>
    seasonShape({
      from,
      to: day(10),
      band,
      course: {
        time: days.map(day),
        value,
        low: value.map((v) => (v === null ? null : v - 0.1)),
        high: value.map((v) => (v === null ? null : v + 0.1)),
      },
    })

  test('a line goes from left to right, higher pH higher up', () => {
    const { line, x, y } = shape([6, 6.5, 6.2])
    const corners = line
      .slice(1)
      .split('L')
      .map((pair) => pair.split(' ').map(Number))
    expect(corners.map(([across]) => across)).toEqual([0, 10, 20])
    expect(corners[1]![1]).toBeLessThan(corners[2]![1]!)
    expect(corners[2]![1]).toBeLessThan(corners[0]![1]!)
    expect(x(day(10))).toBe(100)
    expect(y(6.5)).toBeCloseTo(corners[1]![1]!, 1)
  })

  test('it breaks where days are missing or unknown, and a day on its own is a dot', () => {
    expect(shape([6, 6.1, null, 6.2, 6.3]).line.match(/M/g)).toHaveLength(2)
    const gap = shape([6, 6.1, 6.1, 6.3], [0, 1, 2, 8])
    expect(gap.line.match(/M/g)).toHaveLength(2)
    expect(gap.line).toMatch(/M80 [\d.]+h0$/)
    expect(gap.shade.match(/Z/g)).toHaveLength(2)
  })

  test('the band and what the days need are on the paper', () => {
    const { band, rules } = shape([6.6, 6.7], [0, 1], { low: 5.5, high: 6.5 })
    expect(band!.top).toBeGreaterThan(0)
    expect(band!.bottom).toBeLessThan(100)
    expect(band!.top).toBeLessThan(band!.bottom)
    expect(rules.length).toBeGreaterThanOrEqual(3)
    expect(rules.length).toBeLessThanOrEqual(8)
    for (const rule of rules) {
      expect(rule.y).toBeGreaterThanOrEqual(0)
      expect(rule.y).toBeLessThanOrEqual(100)
    }
  })

  test('without days there is no line, and no shade without an interval', () => {
    const empty = shape([])
    expect(empty.line).toBe('')
    expect(empty.shade).toBe('')
    const bare = seasonShape({
      from,
      to: day(10),
      band: null,
      course: { time: [day(0), day(1)], value: [6, 6.1], low: [null, null], high: [null, null] },
    })
    expect(bare.line).toMatch(/^M0 /)
    expect(bare.shade).toBe('')
  })

  test('a sample outside of the course still lies on the paper', () => {
    const far = seasonShape(
      { from, to: day(10), band: null, course: { time: [], value: [], low: [], high: [] } },
      [4.2, 7.9],
    )
    expect(far.y(4.2)).toBeLessThan(100)
    expect(far.y(7.9)).toBeGreaterThan(0)
  })
})
