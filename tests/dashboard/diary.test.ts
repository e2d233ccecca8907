import { describe, expect, test } from 'vitest'
import type { DayAhead, Entry } from '#hub/api/schemas/journal.ts'
import { diaryDays } from '../../dashboard/src/parts/diary/diary-rows.ts'
import {
  dayText,
  edgesOf,
  monthFrom,
  monthOf,
  monthsFrom,
  monthText,
} from '../../dashboard/src/parts/diary/month.ts'

const ZONE = 'Europe/Lisbon'
const note = (id: number, bedId: number, at: string, text: string): Entry => ({
  id,
  bedId,
  at: Date.parse(at),
  kind: 'note',
  material: null,
  amountG: null,
  waterL: null,
  probe: null,
  ph: null,
  method: null,
  text,
})
const planned = (key: string, day: string, bedId: number | null): DayAhead => ({
  key,
  day,
  bedId,
  bed: bedId === null ? null : `bed ${bedId}`,
  kind: 'treat',
  summary: `portion ${key}`,
  text: 'Put on 120 g.',
})
const ALL = { bed: null, kind: null, text: '' }
const words = (entry: Entry): string => entry.text

describe('months of the garden', () => {
  test('follow each other over the year', () => {
    expect(monthsFrom({ year: 2026, month: 12 }, 1)).toEqual({ year: 2027, month: 1 })
    expect(monthsFrom({ year: 2026, month: 1 }, -1)).toEqual({ year: 2025, month: 12 })
    expect(monthsFrom({ year: 2026, month: 3 }, -27)).toEqual({ year: 2023, month: 12 })
  })
  test('begin by its own clock: Lisbon is an hour ahead of UTC in summer', () => {
    const { from, to } = edgesOf({ year: 2026, month: 7 }, ZONE)
    expect(new Date(from).toISOString()).toBe('2026-06-30T23:00:00.000Z')
    expect(new Date(to).toISOString()).toBe('2026-07-31T23:00:00.000Z')
    expect(monthOf(from, ZONE)).toEqual({ year: 2026, month: 7 })
    expect(dayText(from - 1, ZONE)).toBe('2026-06-30')
  })
  test('stand in an address as year and month', () => {
    expect(monthFrom(monthText({ year: 2026, month: 3 }))).toEqual({ year: 2026, month: 3 })
    for (const text of [undefined, '', '2026', '2026-13', '2026-3', '26-03', '2026-03-01']) {
      expect(monthFrom(text)).toBeNull()
    }
  })
})

describe('days of the journal', () => {
  const entries = [
    note(2, 1, '2026-07-02T08:00Z', 'Mulched with straw'),
    note(1, 1, '2026-07-01T23:30Z', 'Sown'),
    note(3, 2, '2026-07-02T09:00Z', 'Watered'),
  ]
  const ahead = [planned('a', '2026-07-02', 1), planned('b', '2026-07-09', null)]

  test('hold what was done and what is planned, by the garden’s own date', () => {
    const days = diaryDays(entries, ahead, ZONE, ALL, words)
    // Half past eleven in the evening by UTC is the next day in Lisbon.
    expect(days.map((d) => [d.day, d.entries.map((e) => e.id), d.ahead.map((p) => p.key)])).toEqual(
      [
        ['2026-07-02', [1, 2, 3], ['a']],
        ['2026-07-09', [], ['b']],
      ],
    )
  })
  test('of one bed, one kind or with some words in them', () => {
    const found = (filter: Partial<typeof ALL> | object) =>
      diaryDays(entries, ahead, ZONE, { ...ALL, ...filter }, words).flatMap((d) => [
        ...d.entries.map((e) => e.id),
        ...d.ahead.map((p) => p.key),
      ])
    expect(found({ bed: 2 })).toEqual([3])
    expect(found({ kind: 'note' })).toEqual([1, 2, 3])
    expect(found({ kind: 'ahead' })).toEqual(['a', 'b'])
    expect(found({ text: ' STRAW ' })).toEqual([2])
    expect(found({ text: '120 g' })).toEqual(['a', 'b'])
    expect(found({ kind: 'sample' })).toEqual([])
  })
})
