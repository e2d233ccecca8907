import { useEffect, useState } from 'preact/hooks'
import type { WhoView } from '../../hub/api/schemas/account.ts'
import './who.css'

const SIGNED_OUT = 'loamline:signed-out'

let known: WhoView | null = null
const listeners = new Set<(who: WhoView | null) => void>()

/** Notes who looks at the pages; what they may not do is not shown to them (`data-needs` in the pages). */
export function noteWho(who: WhoView): void {
  known = who
  const mayChange = who.scopes.includes('change') || who.state === 'sign in'
  document.documentElement.dataset['may'] = mayChange ? 'change' : 'read'
  for (const listener of listeners) listener(who)
}

/** Who looks at the pages; null until the hub has told. */
export function useWho(): WhoView | null {
  const [who, setWho] = useState(known)
  useEffect(() => {
    setWho(known)
    listeners.add(setWho)
    return () => void listeners.delete(setWho)
  }, [])
  return who
}

/** The hub let nobody in: the pages go to signing in and come back. */
export const noteSignedOut = (): void => void window.dispatchEvent(new Event(SIGNED_OUT))

/** Calls when the hub let nobody in. */
export function useSignedOut(then: () => void): void {
  useEffect(() => {
    window.addEventListener(SIGNED_OUT, then)
    return () => window.removeEventListener(SIGNED_OUT, then)
  }, [then])
}

/** A page of the dashboard itself, whatever an address says: signing in leads nowhere else. */
export function ownPage(address: string | undefined): string {
  if (address === undefined || !address.startsWith('/')) return '/'
  const url = new URL(address, location.origin)
  return url.origin === location.origin ? url.pathname + url.search : '/'
}
