import { useEffect, useState } from 'preact/hooks'
import { parseRoute, routePath } from './router.ts'
import type { Route } from './router.ts'

const MOVED = 'loamline:moved'

/** Goes to a route and keeps it in the browser's history. */
export function go(route: Route): void {
  history.pushState(null, '', routePath(route))
  window.scrollTo(0, 0)
  window.dispatchEvent(new Event(MOVED))
}

/** The present route; follows the back button and `go`. */
export function useRoute(): Route {
  const here = (): string => location.pathname + location.search
  const [address, setAddress] = useState(here)
  useEffect(() => {
    const follow = (): void => setAddress(here())
    window.addEventListener('popstate', follow)
    window.addEventListener(MOVED, follow)
    return () => {
      window.removeEventListener('popstate', follow)
      window.removeEventListener(MOVED, follow)
    }
  }, [])
  return parseRoute(address)
}
