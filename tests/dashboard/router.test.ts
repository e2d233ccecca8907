import { expect, test } from 'vitest'
import { parseRoute, routePath } from '../../dashboard/src/router.ts'
import type { Route } from '../../dashboard/src/router.ts'

const ROUTES: [string, Route][] = [
  ['/', { page: 'garden' }],
  ['/bed/3', { page: 'bed', id: 3 }],
  ['/bed/new', { page: 'new-bed' }],
  ['/probes', { page: 'probes' }],
  ['/probe/sill1', { page: 'probe', id: 'sill1' }],
  ['/amendments', { page: 'amendments' }],
  ['/trials', { page: 'trials' }],
  ['/alarms', { page: 'alarms' }],
  ['/settings', { page: 'settings' }],
]

test.each(ROUTES)('%s is a page and the page is at that path', (path, route) => {
  expect(parseRoute(path)).toEqual(route)
  expect(routePath(route)).toBe(path)
})

test('a trailing slash does not matter', () => {
  expect(parseRoute('/bed/3/')).toEqual({ page: 'bed', id: 3 })
})

test.each([
  '/bed',
  '/bed/0',
  '/bed/-1',
  '/bed/3x',
  '/bed/1e3',
  '/probe/A',
  '/probe/a',
  '/bed/3/4',
  '/other',
])('%s is nowhere', (path) => {
  expect(parseRoute(path)).toEqual({ page: 'nowhere', path })
})
