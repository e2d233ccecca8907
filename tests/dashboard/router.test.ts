import { expect, test } from 'vitest'
import { parseRoute, routePath } from '../../dashboard/src/router.ts'
import type { Route } from '../../dashboard/src/router.ts'

const ROUTES: [string, Route][] = [
  ['/', { page: 'garden' }],
  ['/bed/3', { page: 'bed', id: 3 }],
  ['/bed/3/plan', { page: 'plan', id: 3 }],
  ['/bed/3/measure', { page: 'measure', id: 3 }],
  ['/probe/sill1/calibrate', { page: 'calibrate', id: 'sill1' }],
  ['/bed/new', { page: 'new-bed' }],
  ['/probes', { page: 'probes' }],
  ['/probe/sill1', { page: 'probe', id: 'sill1' }],
  ['/review', { page: 'review' }],
  ['/report', { page: 'report' }],
  [
    '/report?from=2026-01-01&to=2026-06-30',
    { page: 'report', from: '2026-01-01', to: '2026-06-30' },
  ],
  ['/bed/3/report', { page: 'report', bed: 3 }],
  ['/bed/3/report?to=2026-06-30', { page: 'report', bed: 3, to: '2026-06-30' }],
  ['/trials', { page: 'trials' }],
  ['/trials?trial=7', { page: 'trials', trial: 7 }],
  [
    '/trials?material=wood+ash+%26+char&direction=raises',
    { page: 'trials', material: 'wood ash & char', direction: 'raises' },
  ],
  ['/journal', { page: 'journal' }],
  [
    '/journal?month=2026-05&bed=3&kind=note',
    { page: 'journal', month: '2026-05', bed: 3, kind: 'note' },
  ],
  ['/alarms', { page: 'alarms' }],
  ['/settings', { page: 'settings' }],
  ['/data', { page: 'data' }],
]

test.each(ROUTES)('%s is a page and the page is at that path', (path, route) => {
  expect(parseRoute(path)).toEqual(route)
  expect(routePath(route)).toBe(path)
})

test('a trailing slash does not matter', () => {
  expect(parseRoute('/bed/3/')).toEqual({ page: 'bed', id: 3 })
})

test('what a page does not know of in the query does not matter', () => {
  expect(parseRoute('/trials?trial=-1&direction=sideways&other=1')).toEqual({ page: 'trials' })
  expect(parseRoute('/report?from=&to=2026-06-30')).toEqual({ page: 'report', to: '2026-06-30' })
  expect(parseRoute('/bed/3?range=year')).toEqual({ page: 'bed', id: 3 })
})

test.each([
  '/bed',
  '/bed/0',
  '/bed/-1',
  '/bed/3x',
  '/bed/1e3',
  '/probe/A',
  '/probe/A/calibrate',
  '/probe/sill1/measure',
  '/bed/3/calibrate',
  '/probe/a',
  '/bed/3/4',
  '/bed/new/report',
  '/bed/3/report/4',
  '/probe/sill1/report',
  '/other',
])('%s is nowhere', (path) => {
  expect(parseRoute(path)).toEqual({ page: 'nowhere', path })
})
