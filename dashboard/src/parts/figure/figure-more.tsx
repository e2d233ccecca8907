import type { ComponentChildren } from 'preact'
import { useState } from 'preact/hooks'
import { say } from '../../say.ts'

/** What is behind a chart, made when somebody asks for it. */
export function FigureMore({
  name,
  brief,
  children,
}: {
  readonly name: string
  /** What is seen, where the name stands beside it anyway. @default the name as numbers */
  readonly brief?: string
  readonly children: () => ComponentChildren
}) {
  const [open, setOpen] = useState(false)
  return (
    <details class="figure-more" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary class="faint" aria-label={say`${name} as numbers`}>
        {brief ?? say`${name} as numbers`}
      </summary>
      {open && children()}
    </details>
  )
}
