import type { ComponentChildren } from 'preact'
import { useState } from 'preact/hooks'
import { say } from '../../say.ts'

/** What is behind a chart, made when somebody asks for it. */
export function FigureMore({
  name,
  children,
}: {
  readonly name: string
  readonly children: () => ComponentChildren
}) {
  const [open, setOpen] = useState(false)
  return (
    <details class="figure-more" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary class="faint">{say`${name} as numbers`}</summary>
      {open && children()}
    </details>
  )
}
