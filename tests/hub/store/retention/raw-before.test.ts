import { expect, test } from 'vitest'
import { rawBefore } from '#hub/store/retention/raw-before.ts'

const day = (text: string): number => Date.parse(`${text}T00:00:00Z`)

test('months are those of the calendar, cut at the UTC day', () => {
  const now = Date.parse('2026-11-26T12:00:00Z')
  expect(rawBefore(now, 'UTC', 3)).toBe(day('2026-08-26'))
  expect(rawBefore(now, 'UTC', 24)).toBe(day('2024-11-26'))
  // A month without such a day gives its last.
  expect(rawBefore(Date.parse('2027-05-31T12:00:00Z'), 'UTC', 3)).toBe(day('2027-02-28'))
  // The day before in UTC, although it is the same local day.
  expect(rawBefore(Date.parse('2026-11-26T20:00:00Z'), 'Pacific/Auckland', 3)).toBe(
    day('2026-08-26'),
  )
})
