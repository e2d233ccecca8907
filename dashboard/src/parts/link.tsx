import type { ComponentChildren } from 'preact'
import type { Route } from '../router.ts'
import { routePath } from '../router.ts'
import { go } from '../use-route.ts'

interface LinkProps {
  readonly to: Route
  readonly children: ComponentChildren
  readonly class?: string
  readonly current?: boolean
}

/** A real link; a plain click stays within the page. */
export function Link({ to, children, class: name = '', current = false }: LinkProps) {
  return (
    <a
      href={routePath(to)}
      class={name}
      aria-current={current ? 'page' : undefined}
      onClick={(event) => {
        if (event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey)
          return
        event.preventDefault()
        go(to)
      }}
    >
      {children}
    </a>
  )
}
