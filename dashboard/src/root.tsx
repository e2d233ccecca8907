import { useCallback, useEffect } from 'preact/hooks'
import { App } from './app.tsx'
import { firstApi } from './first-api.ts'
import { HubProvider } from './hub-context.tsx'
import { later } from './parts/later.tsx'
import { parseRoute } from './router.ts'
import { go, useRoute } from './use-route.ts'
import { noteWho, useSignedOut } from './who.ts'

const SignInView = later(async () => (await import('./views/sign-in.tsx')).SignInView)
const SharedView = later(async () => (await import('./views/shared.tsx')).SharedView)

/** The dashboard, which needs to know who looks, and what is seen without: signing in, and a bed that was shared. */
export function Root() {
  const route = useRoute()
  const outside = route.page === 'sign-in' || route.page === 'shared'
  const signedOut = useCallback(() => {
    const here = location.pathname + location.search
    // Several answers say so at once; where the page is counts, not what was drawn last.
    const { page } = parseRoute(here)
    if (page !== 'sign-in' && page !== 'shared') go({ page: 'sign-in', to: here })
  }, [])
  useSignedOut(signedOut)
  useEffect(() => {
    if (outside) return
    firstApi.who().then(noteWho, () => undefined)
  }, [outside])
  if (route.page === 'sign-in') return <SignInView to={route.to} />
  if (route.page === 'shared') return <SharedView shared={route.key} />
  return (
    <HubProvider>
      <App />
    </HubProvider>
  )
}
