import { say } from './say.ts'

const DIRECTIONS = ['raises', 'lowers', 'changes'] as const
type Direction = (typeof DIRECTIONS)[number]

/** Where the reader is. */
export type Route =
  | { readonly page: 'garden' }
  | { readonly page: 'bed'; readonly id: number }
  | { readonly page: 'plan'; readonly id: number }
  | { readonly page: 'measure'; readonly id: number }
  | { readonly page: 'new-bed' }
  | { readonly page: 'probes' }
  | { readonly page: 'probe'; readonly id: string }
  | { readonly page: 'calibrate'; readonly id: string }
  | { readonly page: 'review' }
  | {
      readonly page: 'report'
      /** Of one bed; left out: of the whole garden. */
      readonly bed?: number
      /** Days 'YYYY-MM-DD', both inside; left out: as is usual. */
      readonly from?: string
      readonly to?: string
    }
  | {
      readonly page: 'trials'
      /** A trial to be shown first. */
      readonly trial?: number
      /** A material for a new trial, and what it is said to do. */
      readonly material?: string
      readonly direction?: Direction
    }
  | {
      readonly page: 'journal'
      /** 'YYYY-MM'; left out: this month. */
      readonly month?: string | undefined
      readonly bed?: number | undefined
      readonly kind?: string | undefined
      /** Words that are looked for. */
      readonly text?: string | undefined
    }
  | { readonly page: 'alarms' }
  | { readonly page: 'settings' }
  | { readonly page: 'data' }
  | { readonly page: 'interfaces' }
  | { readonly page: 'people' }
  | { readonly page: 'messages' }
  | {
      readonly page: 'sign-in'
      /** Address of the page to come back to. */
      readonly to?: string
    }
  | { readonly page: 'shared'; readonly key: string }
  | { readonly page: 'nowhere'; readonly path: string }

const PLAIN = ['probes', 'review', 'alarms', 'settings', 'data', 'interfaces'] as const
const PROBE = /^[a-z][a-z0-9]{2,22}$/
/** What a share link is: base64url. */
const SECRET = /^[\w-]{20,100}$/
const ID = /^[1-9][0-9]{0,14}$/

/** Names of a query string that a page knows, left out where they are not given. */
function asked<Name extends string>(
  search: string,
  ...names: readonly Name[]
): { [name in Name]?: string } {
  const given = new URLSearchParams(search)
  const found: { [name in Name]?: string } = {}
  for (const name of names) {
    const value = given.get(name)
    if (value !== null && value !== '') found[name] = value
  }
  return found
}

/**
 * The route of an address such as `/bed/3` or `/report?from=2026-01-01`; a trailing slash and what a page does
 * not know of in the query do not matter.
 */
export function parseRoute(address: string): Route {
  const [path = '', search = ''] = address.split(/\?(.*)/s)
  const [first = '', second, third, ...rest] = path.split('/').filter((part) => part !== '')
  if (rest.length > 0) return { page: 'nowhere', path }
  if (third !== undefined) {
    if (first === 'probe' && third === 'calibrate' && PROBE.test(second ?? '')) {
      return { page: 'calibrate', id: second ?? '' }
    }
    if (first !== 'bed' || !ID.test(second ?? '')) return { page: 'nowhere', path }
    if (third === 'report') {
      return { page: 'report', bed: Number(second), ...asked(search, 'from', 'to') }
    }
    return third === 'plan' || third === 'measure'
      ? { page: third, id: Number(second) }
      : { page: 'nowhere', path }
  }
  if (second === undefined) {
    if (first === '') return { page: 'garden' }
    if (first === 'sign-in') return { page: 'sign-in', ...asked(search, 'to') }
    if (first === 'journal') {
      const { bed = '', ...rest } = asked(search, 'month', 'bed', 'kind', 'text')
      return { page: 'journal', ...rest, ...(ID.test(bed) ? { bed: Number(bed) } : {}) }
    }
    if (first === 'report') return { page: 'report', ...asked(search, 'from', 'to') }
    if (first === 'trials') {
      const { trial = '', material, ...rest } = asked(search, 'trial', 'material', 'direction')
      const direction = DIRECTIONS.find((name) => name === rest.direction)
      return {
        page: 'trials',
        ...(ID.test(trial) ? { trial: Number(trial) } : {}),
        ...(material === undefined ? {} : { material }),
        ...(direction === undefined ? {} : { direction }),
      }
    }
    const plain = PLAIN.find((page) => page === first)
    return plain === undefined ? { page: 'nowhere', path } : { page: plain }
  }
  if (first === 'shared' && SECRET.test(second)) return { page: 'shared', key: second }
  if (first === 'settings' && second === 'people') return { page: 'people' }
  if (first === 'settings' && second === 'messages') return { page: 'messages' }
  if (first === 'bed' && second === 'new') return { page: 'new-bed' }
  if (first === 'bed' && ID.test(second)) return { page: 'bed', id: Number(second) }
  if (first === 'probe' && PROBE.test(second)) return { page: 'probe', id: second }
  return { page: 'nowhere', path }
}

const queryOf = (of: Readonly<Record<string, string | number | undefined>>): string => {
  const given = Object.entries(of).filter(([, value]) => value !== undefined)
  const query = new URLSearchParams(given.map(([name, value]) => [name, String(value)])).toString()
  return query === '' ? '' : `?${query}`
}

/** The address of a route. */
export function routePath(route: Route): string {
  switch (route.page) {
    case 'garden':
      return '/'
    case 'bed':
      return `/bed/${route.id}`
    case 'plan':
      return `/bed/${route.id}/plan`
    case 'measure':
      return `/bed/${route.id}/measure`
    case 'calibrate':
      return `/probe/${route.id}/calibrate`
    case 'new-bed':
      return '/bed/new'
    case 'probe':
      return `/probe/${route.id}`
    case 'nowhere':
      return route.path
    case 'people':
      return '/settings/people'
    case 'messages':
      return '/settings/messages'
    case 'sign-in':
      return `/sign-in${queryOf({ to: route.to })}`
    case 'shared':
      return `/shared/${route.key}`
    case 'report': {
      const { bed, from, to } = route
      return `${bed === undefined ? '' : `/bed/${bed}`}/report${queryOf({ from, to })}`
    }
    case 'journal': {
      const { month, bed, kind, text } = route
      return `/journal${queryOf({ month, bed, kind, text })}`
    }
    case 'trials': {
      const { trial, material, direction } = route
      return `/trials${queryOf({ trial, material, direction })}`
    }
    case 'probes':
    case 'review':
    case 'alarms':
    case 'settings':
    case 'data':
    case 'interfaces':
      return `/${route.page}`
  }
}

/** Words for the window's title. */
export function routeTitle(route: Route, bedName: string | undefined): string {
  switch (route.page) {
    case 'garden':
      return say`Garden`
    case 'bed':
      return bedName ?? say`Bed`
    case 'plan':
      return bedName === undefined ? say`Plan: a bed` : say`Plan: ${bedName}`
    case 'measure':
      return bedName === undefined ? say`Measure by hand: a bed` : say`Measure by hand: ${bedName}`
    case 'calibrate':
      return say`Calibrate ${route.id}`
    case 'new-bed':
      return say`New bed`
    case 'probe':
      return say`Probe ${route.id}`
    case 'probes':
      return say`Probes`
    case 'trials':
      return say`Trials`
    case 'review':
      return say`Review`
    case 'report':
      if (route.bed === undefined) return say`Report of the garden`
      return bedName === undefined ? say`Report of a bed` : say`Report of ${bedName}`
    case 'journal':
      return say`Journal`
    case 'alarms':
      return say`Alarms`
    case 'settings':
      return say`Settings`
    case 'data':
      return say`Data`
    case 'interfaces':
      return say`Interfaces`
    case 'messages':
      return say`Messages`
    case 'people':
      return say`People and access`
    case 'sign-in':
      return say`Sign in`
    case 'shared':
      return say`A shared bed`
    case 'nowhere':
      return say`Not found`
  }
}
