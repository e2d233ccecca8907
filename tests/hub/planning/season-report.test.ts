import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { DAY, HOUR } from '#hub/model/clock.ts'
import type { JournalEntry } from '#hub/model/journal.ts'
import type { BedFacts } from '#hub/planning/bed-facts.ts'
import { seasonReport } from '#hub/planning/season-report.ts'
import { type Change, effectOf, factsOf, sampleOf, treated } from './facts.ts'

/** A bed over three winter months in UTC: 6.0 in November, 6.4 in December, 6.5 in January. */
const AT = Date.UTC(2027, 1, 1)
const FROM = Date.UTC(2026, 10, 1)
const LEVELS = [
  ...Array.from({ length: 30 }, () => 6),
  ...Array.from({ length: 31 }, () => 6.4),
  ...Array.from({ length: 31 }, () => 6.5),
]

function bedOf(change: Partial<Change> = {}): BedFacts {
  return factsOf({ at: AT, zone: 'UTC', ph: LEVELS, journal: [], ...change })
}
const watered = (at: number, waterL: number): Partial<JournalEntry> => ({
  kind: 'irrigation',
  at,
  waterL,
})

describe('the months', () => {
  test('each with its days, levels, days in the band, warmth and water', () => {
    const facts = bedOf({
      journal: [
        watered(Date.UTC(2026, 10, 3, 7), 20),
        watered(Date.UTC(2026, 10, 30, 23), 5),
        watered(Date.UTC(2026, 11, 1, 1), 7),
      ],
      soilC: (before) => (before > 62 ? 9 : 4),
    })
    const { months } = seasonReport(facts, FROM, AT, [])
    expect(months.map(({ month }) => month)).toEqual(['2026-11', '2026-12', '2027-01'])
    expect(months.map(({ days }) => days)).toEqual([30, 31, 31])
    expect(months.map(({ median }) => median)).toEqual([6, 6.4, 6.5])
    // The band is 6.3 to 7.0.
    expect(months.map(({ inBand }) => inBand)).toEqual([0, 31, 31])
    expect(months.map(({ waterL }) => waterL)).toEqual([25, 7, 0])
    expect(months[0]!.soilC).toBeCloseTo(9, 6)
    expect(months[2]!.soilC).toBeCloseTo(4, 6)
  })

  test('lowest and highest day of each', () => {
    const ph = LEVELS.map((v, i) => (i === 4 ? 5.7 : i === 9 ? 6.2 : v))
    const [november] = seasonReport(bedOf({ ph }), FROM, AT, []).months
    expect(november).toMatchObject({ lowest: 5.7, highest: 6.2, median: 6 })
  })

  test('without a day, a band, a sensor for warmth: null, never nought', () => {
    const facts = bedOf({ ph: LEVELS.slice(62), bed: { ownBand: null }, soilC: null })
    const { months, inBandShare } = seasonReport(facts, FROM, AT, [])
    expect(months[0]).toEqual({
      month: '2026-11',
      days: 0,
      median: null,
      lowest: null,
      highest: null,
      inBand: null,
      soilC: null,
      waterL: 0,
    })
    expect(inBandShare).toBeNull()
  })

  test('belong to the zone of the garden: a night watering at the end of the year', () => {
    const newYear = Date.UTC(2026, 11, 31, 22)
    const water = (zone: string): (readonly [string, number])[] =>
      seasonReport(bedOf({ zone, journal: [watered(newYear, 9)] }), FROM, AT, []).months.flatMap(
        ({ month, waterL }) => (waterL > 0 ? [[month, waterL] as const] : []),
      )
    expect(water('Europe/Berlin')).toEqual([['2026-12', 9]])
    expect(water('Europe/Athens')).toEqual([['2027-01', 9]])
    expect(water('Pacific/Auckland')).toEqual([['2027-01', 9]])
    expect(water('America/New_York')).toEqual([['2026-12', 9]])
  })

  test('are cut where the period begins and ends', () => {
    const { months } = seasonReport(bedOf(), FROM + 10 * DAY, FROM + 45 * DAY, [])
    expect(months.map(({ month, days }) => [month, days])).toEqual([
      ['2026-11', 20],
      ['2026-12', 15],
    ])
  })

  test('that still lie ahead are not told', () => {
    const { months } = seasonReport(bedOf(), FROM, AT + 90 * DAY, [])
    expect(months.at(-1)!.month).toBe('2027-01')
    expect(seasonReport(bedOf(), AT + DAY, AT + 90 * DAY, []).months).toEqual([])
  })

  test('hold every day of the period once, however long it is', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 91 }),
        fc.integer({ min: 1, max: 92 }),
        fc.constantFrom('UTC', 'Asia/Kolkata', 'America/St_Johns', 'Pacific/Apia'),
        (start, length, zone) => {
          const from = FROM + start * DAY
          const to = Math.min(AT, from + length * DAY)
          const { months } = seasonReport(bedOf({ zone }), from, to, [])
          const days = months.reduce((sum, month) => sum + month.days, 0)
          expect(days).toBe(Math.round((to - from) / DAY))
          expect(new Set(months.map(({ month }) => month)).size).toBe(months.length)
        },
      ),
      { numRuns: 50 },
    )
  })
})

describe('the whole period', () => {
  test('from the level of the first month to that of the last', () => {
    const { change } = seasonReport(bedOf(), FROM, AT, [])
    expect(change!.value).toBeCloseTo(0.5, 10)
    expect(change!.low).toBeGreaterThan(0.25)
    expect(change!.high).toBeLessThan(0.75)
    expect(change!.high - change!.value).toBeCloseTo(change!.value - change!.low, 10)
  })

  test('no change within one month, nor from months with few days', () => {
    expect(seasonReport(bedOf(), FROM, FROM + 28 * DAY, []).change).toBeNull()
    // Six days of January are too few: November to December it is.
    const { change } = seasonReport(bedOf(), FROM, Date.UTC(2027, 0, 7), [])
    expect(change!.value).toBeCloseTo(0.4, 10)
  })

  test('share of the days in the band; its ends: all days lower or higher by two standard errors', () => {
    // Days at 6.4 with a standard error of 0.1 may lie under 6.3; those at 6.5 by two errors of it as well.
    const share = (se: number) => seasonReport(bedOf({ se }), FROM, AT, []).inBandShare!
    expect(share(0.05).value).toBeCloseTo(62 / 92, 10)
    expect(share(0.05).low).toBeCloseTo(62 / 92, 10)
    expect(share(0.06)).toEqual({ value: 62 / 92, low: 31 / 92, high: 62 / 92 })
    expect(share(0.2)).toEqual({ value: 62 / 92, low: 0, high: 1 })
  })

  test('samples and events of the period alone, both ends as told', () => {
    const facts = bedOf({
      journal: [sampleOf(6.1, 93, AT), sampleOf(6.2, 92, AT), sampleOf(6.6, 1, AT)],
    })
    const report = seasonReport(facts, FROM, AT, [
      { at: FROM - HOUR, sentence: 'before' },
      { at: FROM, sentence: 'first' },
      { at: AT - 1, sentence: 'last' },
      { at: AT, sentence: 'after' },
    ])
    expect(report.samples.map(({ ph }) => ph)).toEqual([6.2, 6.6])
    expect(report.samples[0]!.method).toBe('laboratory')
    expect(report.events.map(({ sentence }) => sentence)).toEqual(['first', 'last'])
  })

  test('treatments of the period and those still at work, not those that are gone', () => {
    const at = (daysBefore: number): number => AT - daysBefore * DAY
    const of = (id: number, daysBefore: number, present: number) => ({
      id,
      at: at(daysBefore),
      material: 'ground limestone',
      answers: [
        {
          ...effectOf(id, at(daysBefore), 'ground limestone', { value: 0.5, low: 0.4, high: 0.6 }),
          present: { value: present, low: present - 0.1, high: present + 0.1 },
        },
      ],
    })
    const facts = bedOf({
      journal: [900, 400, 60].map((days) => treated('ground limestone', days, 1000, AT)),
      study: { effects: [of(1, 900, 0.02), of(2, 400, 0.4), of(3, 60, 0.5)] },
    })
    const { review, sentence } = seasonReport(facts, FROM, AT, [])
    expect(review.treatments.map(({ entryIds }) => entryIds)).toEqual([[2], [3]])
    expect(sentence).toContain('2 treatments at work in it; 2 have shown an effect so far.')
  })

  test('is told in two or three short sentences', () => {
    const { sentence } = seasonReport(bedOf(), FROM, AT, [])
    expect(sentence).toMatch(
      /^Heron Bed stood at pH 6\.5 at the end of it, by 92 valid days: \+0\.5 pH \(.*\) since its first month\. 67 % of its days were inside 6\.3 to 7\.0\.$/,
    )
    const still = seasonReport(bedOf({ ph: LEVELS.map(() => 6.4) }), FROM, AT, [])
    expect(still.sentence).toContain('no change can be told')
    expect(seasonReport(bedOf({ ph: [] }), FROM, AT, []).sentence).toBe(
      'Heron Bed has no valid day in this period.',
    )
  })

  test('of a bed that was not gone through yet', () => {
    const report = seasonReport(bedOf({ unstudied: true }), FROM, AT, [])
    expect(report.change).toBeNull()
    expect(report.months.every(({ days }) => days === 0)).toBe(true)
  })
})
