import { parse } from 'csv-parse/sync'
import { describe, expect, test } from 'vitest'
import { csvOf, zonedIso } from '../../dashboard/src/parts/figure/csv.ts'
import { rowsShown, tableOf } from '../../dashboard/src/parts/figure/figure-table.ts'
import { fileName } from '../../dashboard/src/parts/figure/save-file.ts'
import { windowOf } from '../../dashboard/src/parts/figure/windowed.ts'

describe('a moment in a file', () => {
  // RFC 3339, section 5.6: the offset is that of the zone at that moment.
  test.each([
    [Date.UTC(2026, 4, 1, 5), 'Europe/Lisbon', '2026-05-01T06:00:00+01:00'],
    [Date.UTC(2026, 0, 1, 5), 'Europe/Lisbon', '2026-01-01T05:00:00+00:00'],
    [Date.UTC(2026, 0, 1, 5), 'America/St_Johns', '2026-01-01T01:30:00-03:30'],
    [Date.UTC(2026, 11, 31, 23, 59, 59), 'Asia/Kathmandu', '2027-01-01T05:44:59+05:45'],
  ])('%i in %s is %s', (at, zone, text) => {
    expect(zonedIso(at, zone)).toBe(text)
    expect(Date.parse(text)).toBe(at)
  })

  test('says which of two equal hours it is when the clock goes back', () => {
    const first = Date.UTC(2026, 9, 25, 0, 30)
    expect(zonedIso(first, 'Europe/Lisbon')).toBe('2026-10-25T01:30:00+01:00')
    expect(zonedIso(first + 3_600_000, 'Europe/Lisbon')).toBe('2026-10-25T01:30:00+00:00')
  })
})

describe('a table as a file', () => {
  const table = tableOf({
    caption: 'pH',
    time: [1000, 2000, 3000, 4000],
    known: [[6.4444, null, undefined, 6.5]],
    decimals: 2,
    columns: [
      {
        head: 'Bed',
        shown: String,
        files: [
          { head: '=HYPERLINK("x"), "long"', value: (i) => [6.4444, null, undefined, 6.5][i] },
        ],
      },
    ],
  })

  test('has the rows of the table in its order, numbers rounded as they are shown', () => {
    expect(table.times).toEqual([4000, 1000])
    const text = csvOf(table, 'UTC', 'Time (UTC)')
    expect(text.endsWith('\r\n')).toBe(true)
    expect(parse(text)).toEqual([
      ['Time (UTC)', `'=HYPERLINK("x"), "long"`],
      ['1970-01-01T00:00:04+00:00', '6.5'],
      ['1970-01-01T00:00:01+00:00', '6.44'],
    ])
  })

  test.each(['=1+1', '+1', '-1', '@x', '\tx'])('%j is text for every program', (name) => {
    const text = csvOf({ ...table, fields: [{ head: name, value: () => name }] }, 'UTC', 'Time')
    const rows = parse(text)
    expect(rows[0]![1]).toBe(`'${name}`)
    expect(rows[1]![1]).toBe(`'${name}`)
  })

  test('a negative number stays a number', () => {
    const text = csvOf({ ...table, fields: [{ head: 'x', value: () => -0.31 }] }, 'UTC', 'Time')
    expect(parse(text)[1]![1]).toBe('-0.31')
  })
})

test('rows are those of the stretch that is shown in which something is known', () => {
  const time = [1, 2, 3, 4, 5]
  const rows = rowsShown(
    time,
    [
      [1, null, 3, undefined, 5],
      [null, 2, null, null, null],
    ],
    { from: 2, to: 4 },
  )
  expect(rows).toEqual([2, 1])
})

describe('the rows that are drawn', () => {
  const place = { rowPx: 30, heightPx: 300 }
  test('reach around what is in sight', () => {
    expect(windowOf(10_000, { ...place, topPx: 30_000 })).toEqual({ first: 988, end: 1022 })
  })
  test('never leave the table', () => {
    expect(windowOf(5, { ...place, topPx: 0 })).toEqual({ first: 0, end: 5 })
    expect(windowOf(100, { ...place, topPx: 1e9 })).toEqual({ first: 99, end: 100 })
    expect(windowOf(0, { ...place, topPx: 0 })).toEqual({ first: 0, end: 0 })
  })
})

test.each([
  [['Long bed', 'pH'], 'long-bed-ph'],
  [['Übers Eck / Nº 3', 'Moisture, %'], 'ubers-eck-no-3-moisture'],
  [['../../etc', 'pH'], 'etc-ph'],
  [['…'], 'chart'],
])('%j is saved as %s', (parts, name) => {
  expect(fileName(...parts)).toBe(name)
})
