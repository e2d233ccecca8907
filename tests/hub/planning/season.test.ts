import { describe, expect, test } from 'vitest'
import { dayOf, daysAfter, dayFrom, startOf } from '#hub/planning/calendar.ts'
import { inSeason, nextInSeason, seasonOf } from '#hub/planning/season.ts'
import { warmAgainAt } from '#hub/planning/soil-warmth.ts'
import { isSouthern } from '#hub/planning/southern-zones.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { factsOf, NOW, yearOf } from './facts.ts'

const day = (text: string): Temporal.PlainDate => Temporal.PlainDate.from(text)

describe('the growing season', () => {
  test('own dates go first', () => {
    const season = seasonOf(factsOf({ season: { from: '04-15', to: '10-10' } }))
    expect(season.basis).toBe('own dates')
    expect(season.sentence).toMatch(/15 April to 10 October/)
    expect(inSeason(season, day('2027-04-14'))).toBe(false)
    expect(inSeason(season, day('2027-04-15'))).toBe(true)
    expect(inSeason(season, day('2027-10-10'))).toBe(true)
    expect(inSeason(season, day('2027-10-11'))).toBe(false)
  })

  test('else by the days on which the soil had 10 degrees in the last year', () => {
    const season = seasonOf(factsOf())
    expect(season.basis).toBe('soil temperature')
    // 12 - 8 cos crosses 10 where cos is 0.25: 76.5 days from the coldest day, 16 January.
    expect(season.from!.month).toBe(4)
    expect(Math.abs(season.from!.day - 2)).toBeLessThanOrEqual(2)
    expect(season.to!.month).toBe(10)
    expect(season.to!.day).toBeGreaterThanOrEqual(29)
  })

  test('by the soil in the south: over the new year', () => {
    const facts = factsOf({ zone: 'Pacific/Auckland', soilC: (before) => 24 - yearOf()(before) })
    const season = seasonOf(facts)
    expect(season.basis).toBe('soil temperature')
    expect(inSeason(season, day('2027-01-01'))).toBe(true)
    expect(inSeason(season, day('2027-07-15'))).toBe(false)
    expect(season.from!.month).toBeGreaterThan(season.to!.month)
  })

  test('soil that is always warm: all year', () => {
    const season = seasonOf(factsOf({ soilC: () => 22 }))
    expect(season).toMatchObject({ from: null, to: null })
    expect(inSeason(season, day('2027-01-15'))).toBe(true)
  })

  test.each([
    ['Europe/Berlin', '2027-03-31', '2027-04-01', '2027-10-31', '2027-11-01'],
    ['Australia/Hobart', '2027-09-30', '2027-10-01', '2028-04-30', '2028-05-01'],
    ['America/Argentina/Mendoza', '2027-09-30', '2027-10-01', '2028-04-30', '2028-05-01'],
    ['Africa/Johannesburg', '2027-09-30', '2027-10-01', '2028-04-30', '2028-05-01'],
  ])('without a sensor by the half of the earth: %s', (zone, before, first, last, after) => {
    const season = seasonOf(factsOf({ zone, soilC: null }))
    expect(season.basis).toBe('usual')
    expect([before, first, last, after].map((d) => inSeason(season, day(d)))).toEqual([
      false,
      true,
      true,
      false,
    ])
  })

  test('a few months of soil are not enough to go by', () => {
    const facts = factsOf()
    const short = { day: facts.soilC.day.slice(-200), value: facts.soilC.value.slice(-200) }
    expect(seasonOf({ ...facts, soilC: short }).basis).toBe('usual')
  })

  test('the next day in it, over the new year too', () => {
    const south = seasonOf(factsOf({ zone: 'Australia/Hobart', soilC: null }))
    expect(nextInSeason(south, day('2027-06-01')).toString()).toBe('2027-10-01')
    expect(nextInSeason(south, day('2027-12-31')).toString()).toBe('2027-12-31')
    const north = seasonOf(factsOf({ soilC: null }))
    expect(nextInSeason(north, day('2027-11-01')).toString()).toBe('2028-04-01')
  })

  test('29 February as an own date comes round', () => {
    const leap = seasonOf(factsOf({ season: { from: '02-29', to: '11-01' } }))
    expect(nextInSeason(leap, day('2027-01-10')).toString()).toBe('2027-03-01')
    expect(nextInSeason(leap, day('2028-01-10')).toString()).toBe('2028-02-29')
    const oneDay = seasonOf(factsOf({ season: { from: '02-29', to: '02-29' } }))
    expect(nextInSeason(oneDay, day('2028-03-01')).toString()).toBe('2032-02-29')
  })
})

test('halves of the earth', () => {
  for (const zone of [
    'Australia/Sydney',
    'Pacific/Auckland',
    'America/Sao_Paulo',
    'America/Santiago',
    'Africa/Harare',
    'NZ',
  ]) {
    expect(isSouthern(zone)).toBe(true)
  }
  for (const zone of [
    'Europe/London',
    'America/New_York',
    'Asia/Tokyo',
    'Pacific/Honolulu',
    'UTC',
    'America/Bogota',
  ]) {
    expect(isSouthern(zone)).toBe(false)
  }
})

describe('days of the calendar', () => {
  test('days with 23 and 25 hours are one day', () => {
    const zone = 'Europe/Lisbon'
    const spring = Date.UTC(2027, 2, 27, 12)
    expect(dayOf(daysAfter(spring, 1, zone), zone).toString()).toBe('2027-03-28')
    expect(daysAfter(spring, 2, zone) - daysAfter(spring, 1, zone)).toBe(23 * HOUR)
    const autumn = Date.UTC(2027, 9, 30, 12)
    expect(daysAfter(autumn, 2, zone) - daysAfter(autumn, 1, zone)).toBe(25 * HOUR)
  })

  test('a day that has no midnight begins when it begins', () => {
    // Clocks in Beirut go from 00:00 to 01:00 on the last Sunday of March.
    const zone = 'Asia/Beirut'
    const at = startOf(day('2027-03-28'), zone)
    expect(dayOf(at, zone).toString()).toBe('2027-03-28')
    expect(dayOf(at - 1, zone).toString()).toBe('2027-03-27')
  })

  test('from a time within a day the next whole one', () => {
    const zone = 'America/Denver'
    const start = startOf(day('2027-05-12'), zone)
    expect(dayFrom(start, zone).toString()).toBe('2027-05-12')
    expect(dayFrom(start + 1, zone).toString()).toBe('2027-05-13')
  })
})

describe('when the soil is warm again', () => {
  const january = Date.UTC(2027, 0, 20, 12)

  test('by what this bed did a year ago', () => {
    const at = warmAgainAt(factsOf({ at: january, soilC: yearOf(january) }), 10)!
    expect(dayOf(at, 'UTC').month).toBe(4)
    expect(Math.abs(dayOf(at, 'UTC').day - 2)).toBeLessThanOrEqual(3)
  })

  test('not known without a record of a year', () => {
    const facts = factsOf({ at: january })
    expect(
      warmAgainAt({ ...facts, soilC: { day: new Float64Array(), value: new Float64Array() } }, 10),
    ).toBeNull()
    const short = { day: facts.soilC.day.slice(-40), value: facts.soilC.value.slice(-40) }
    expect(warmAgainAt({ ...facts, soilC: short }, 10)).toBeNull()
  })

  test('never, where it never was', () => {
    expect(warmAgainAt(factsOf({ at: NOW + DAY, soilC: () => 5 }), 10)).toBeNull()
  })
})
