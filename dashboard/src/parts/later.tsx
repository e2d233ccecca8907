import type { ComponentType } from 'preact'
import { useEffect, useState } from 'preact/hooks'
import { say } from '../say.ts'

/**
 * A page whose code is fetched when it is first opened, so that the garden page stays light. `quiet`: a part of a page
 * that nobody waits for.
 */
export function later<P extends object>(
  load: () => Promise<ComponentType<P>>,
  quiet?: 'quiet',
): ComponentType<P> {
  let ready: ComponentType<P> | null = null
  return function Later(props: P) {
    const [View, setView] = useState<{ of: ComponentType<P> | null }>({ of: ready })
    const [failed, setFailed] = useState(false)
    useEffect(() => {
      if (ready !== null) return
      load().then(
        (view) => {
          ready = view
          setView({ of: view })
        },
        () => setFailed(true),
      )
    }, [])
    if (View.of !== null) return <View.of {...props} />
    if (quiet !== undefined) return null
    return failed ? (
      <p class="error" role="alert">
        {say`This page’s code could not be fetched.`}{' '}
        <button type="button" onClick={() => location.reload()}>{say`Load again`}</button>
      </p>
    ) : (
      <p class="quiet-line">{say`Opening …`}</p>
    )
  }
}
