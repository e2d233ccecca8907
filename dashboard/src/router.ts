/** Where the reader is. */
export type Route =
  | { readonly page: 'garden' }
  | { readonly page: 'bed'; readonly id: number }
  | { readonly page: 'new-bed' }
  | { readonly page: 'probes' }
  | { readonly page: 'probe'; readonly id: string }
  | { readonly page: 'trials' }
  | { readonly page: 'amendments' }
  | { readonly page: 'alarms' }
  | { readonly page: 'settings' }
  | { readonly page: 'nowhere'; readonly path: string }

const PLAIN = ['probes', 'trials', 'amendments', 'alarms', 'settings'] as const
const PROBE = /^[a-z][a-z0-9]{2,22}$/

/** The route of a path such as `/bed/3`; a trailing slash does not matter. */
export function parseRoute(path: string): Route {
  const [first = '', second, ...rest] = path.split('/').filter((part) => part !== '')
  if (rest.length > 0) return { page: 'nowhere', path }
  if (second === undefined) {
    if (first === '') return { page: 'garden' }
    const plain = PLAIN.find((page) => page === first)
    return plain === undefined ? { page: 'nowhere', path } : { page: plain }
  }
  if (first === 'bed' && second === 'new') return { page: 'new-bed' }
  if (first === 'bed' && /^[1-9][0-9]{0,14}$/.test(second))
    return { page: 'bed', id: Number(second) }
  if (first === 'probe' && PROBE.test(second)) return { page: 'probe', id: second }
  return { page: 'nowhere', path }
}

/** The path of a route. */
export function routePath(route: Route): string {
  switch (route.page) {
    case 'garden':
      return '/'
    case 'bed':
      return `/bed/${route.id}`
    case 'new-bed':
      return '/bed/new'
    case 'probe':
      return `/probe/${route.id}`
    case 'nowhere':
      return route.path
    case 'probes':
    case 'trials':
    case 'amendments':
    case 'alarms':
    case 'settings':
      return `/${route.page}`
  }
}

/** Words for the window's title. */
export function routeTitle(route: Route, bedName: string | undefined): string {
  switch (route.page) {
    case 'garden':
      return 'Garden'
    case 'bed':
      return bedName ?? 'Bed'
    case 'new-bed':
      return 'New bed'
    case 'probe':
      return `Probe ${route.id}`
    case 'probes':
      return 'Probes'
    case 'trials':
      return 'Trials'
    case 'amendments':
      return 'Amendments'
    case 'alarms':
      return 'Alarms'
    case 'settings':
      return 'Settings'
    case 'nowhere':
      return 'Not found'
  }
}
