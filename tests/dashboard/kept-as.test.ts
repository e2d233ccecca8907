import { expect, test } from 'vitest'
import { keptAs } from '../../dashboard/src/worker/kept-as.ts'

const DAY = 86_400_000
const NOW = Date.UTC(2026, 6, 1)
const nameOf = (path: string, now = NOW): string | null => keptAs(new URL(path, 'http://hub'), now)

test.each([
  '/api/garden',
  '/api/beds',
  '/api/beds/3/journal',
  '/api/beds/3/findings',
  '/api/probes/p1abc',
  '/api/health',
])('%s is kept for times without a connection', (path) => {
  expect(nameOf(path)).toBe(`${path}?`)
})

test.each([
  '/api/backup',
  '/api/export/readings.csv',
  '/api/probes/p1abc/password',
  '/api/people',
  '/api/sessions',
  '/api/keys',
  '/api/shared/abcdef',
  '/api/shared/abcdef/series',
  '/api/calendar.ics?key=abc',
  '/api/live',
  '/api/openapi.json',
  '/assets/index.js',
  '/',
])('%s is never kept', (path) => {
  expect(nameOf(path)).toBeNull()
})

test('the newest season has one name, whenever it is asked for', () => {
  const asked = (now: number) =>
    nameOf(`/api/beds/3/series?quantity=ph&from=${now - 214 * DAY}&to=${now + 3 * DAY}`, now)
  expect(asked(NOW)).toBe('/api/beds/3/series?quantity=ph&days=217')
  expect(asked(NOW + DAY / 3)).toBe(asked(NOW))
})

test('a stretch of the past has a name of its own', () => {
  const past = `/api/beds/3/series?quantity=ph&from=${NOW - 90 * DAY}&to=${NOW - 60 * DAY}`
  expect(nameOf(past)).toBe(
    `/api/beds/3/series?from=${NOW - 90 * DAY}&quantity=ph&to=${NOW - 60 * DAY}`,
  )
})

test('other spots and other quantities have other names', () => {
  const of = (rest: string) => nameOf(`/api/beds/3/series?from=${NOW - DAY}&to=${NOW}&${rest}`)
  const names = [of('quantity=ph'), of('quantity=moisture'), of('quantity=ph&spots=true')]
  expect(new Set(names).size).toBe(3)
})
