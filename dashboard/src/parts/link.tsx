import type { ComponentChildren } from 'preact'
import type { Route } from '../router.ts'
import { routePath } from '../router.ts'
import { go } from '../use-route.ts'

interface LinkProps {
  readonly to: Route
  readonly children: ComponentChildren
  readonly class?: string
  readonly current?: boolean
  /** Leads to where something is changed: not for those who may only look. */
  readonly 'data-needs'?: 'change'
}

/** A real link; a plain click stays within the page. */
export function Link({
  to,
  children,
  class: name = '',
  current = false,
  'data-needs': needs,
}: LinkProps) {
  return (
    <a
      href={routePath(to)}
      class={name}
      data-needs={needs}
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
