import { afterEach, expect, test, vi } from 'vitest'
import { runsOf, scaleOf } from '../../dashboard/src/parts/people/trend-shape.ts'
import { parseRoute, routePath } from '../../dashboard/src/router.ts'
import { ownPage } from '../../dashboard/src/who.ts'

afterEach(() => vi.unstubAllGlobals())

test('signing in leads back to a page of the hub and nowhere else', () => {
  vi.stubGlobal('location', { origin: 'http://hub.lan:8090' })
  expect(ownPage('/bed/3?from=2026-01-01')).toBe('/bed/3?from=2026-01-01')
  for (const elsewhere of [
    undefined,
    '',
    'https://elsewhere.example/',
    '//elsewhere.example/',
    '/\\elsewhere.example/',
    'javascript:alert(1)',
  ]) {
    expect(ownPage(elsewhere), elsewhere).toBe('/')
  }
})

test('the pages of people have addresses of their own', () => {
  const shared = `/shared/${'a-_1'.repeat(10)}xyz`
  for (const address of ['/settings/people', '/sign-in', '/sign-in?to=%2Fbed%2F3', shared]) {
    const route = parseRoute(address)
    expect(route.page).not.toBe('nowhere')
    expect(routePath(route)).toBe(address)
  }
  expect(parseRoute('/shared/short').page).toBe('nowhere')
  expect(parseRoute(`${shared}/more`).page).toBe('nowhere')
})

test('a gap in the readings is a gap in the line', () => {
  const runs = runsOf({ time: [1, 2, 3, 4, 5], value: [6, 6.1, null, 6.3, 6.2] })
  expect(runs).toEqual([
    [
      { at: 1, ph: 6 },
      { at: 2, ph: 6.1 },
    ],
    [
      { at: 4, ph: 6.3 },
      { at: 5, ph: 6.2 },
    ],
  ])
  expect(runsOf({ time: [], value: [] })).toEqual([])
})

test.each([
  [[6.4, 6.5], null],
  [[6.4], { low: 6, high: 6.8 }],
  [[4.1, 8.9], { low: 6, high: 6.8 }],
  [[7], null],
] as const)(
  'a scale holds %j and the band %j, and is never so narrow that noise fills it',
  (values, band) => {
    const { low, high, ticks } = scaleOf(values, band)
    for (const value of [...values, ...(band === null ? [] : [band.low, band.high])]) {
      expect(value).toBeGreaterThan(low)
      expect(value).toBeLessThan(high)
    }
    expect(high - low).toBeGreaterThanOrEqual(1)
    expect(ticks.length).toBeGreaterThanOrEqual(2)
    expect(ticks.length).toBeLessThanOrEqual(9)
    for (const tick of ticks) expect(tick).toBeGreaterThanOrEqual(low)
  },
)
