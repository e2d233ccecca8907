import { isLoopback } from '../accounts/places.ts'
import type { NewRoute, Route, RouteTarget } from '../model/route.ts'
import { say } from '../words/say.ts'
import { badValue } from './problem.ts'
import type { RouteInput } from './schemas/message.ts'

/** What a form says about a route, and the secret in it: undefined keeps the one that is there. */
export interface SplitRoute {
  readonly route: NewRoute
  readonly secret: string | null | undefined
}

/**
 * Takes the secret out of a form. A password is given anew when it would go to another server: what is kept for one must
 * not be drawn out through another.
 *
 * @param before the route as it is, null for a new one
 */
export function splitSecret({ target, ...rest }: RouteInput, before: Route | null): SplitRoute {
  const same = before?.target.way === target.way ? before : null
  const of = (shown: RouteTarget, secret: string | null | undefined): SplitRoute => ({
    route: { ...rest, target: shown },
    // Another way: what was kept was for the one before.
    secret: secret === undefined && same === null ? null : secret,
  })
  switch (target.way) {
    case 'e-mail': {
      const { password, ...shown } = target
      if (shown.user === null) return of(shown, null)
      if (shown.security === 'none' && !isLoopback(shown.host)) {
        throw badValue(
          'target/security',
          say`expected an encrypted connection: a password must not cross a network in the clear`,
        )
      }
      const was = same?.target.way === 'e-mail' ? same.target : null
      const kept = same?.hasSecret === true && was?.host === shown.host && was.port === shown.port
      if (password === undefined && !kept) {
        throw badValue('target/password', say`expected the password for this server`)
      }
      return of(shown, password)
    }
    case 'webhook': {
      const { key, ...shown } = target
      const was = same?.target.way === 'webhook' ? same.target : null
      const elsewhere = was !== null && new URL(was.url).host !== new URL(shown.url).host
      return of(shown, elsewhere ? (key ?? null) : key)
    }
    case 'push': {
      const { subscription } = target
      if (subscription === undefined) {
        if (same?.target.way === 'push') return of(same.target, undefined)
        throw badValue(
          'target/subscription',
          say`expected what the browser gives when it subscribes`,
        )
      }
      const service = new URL(subscription.endpoint).host
      return of({ way: 'push', service }, JSON.stringify(subscription))
    }
    case 'mqtt':
      return of(target, null)
  }
}
