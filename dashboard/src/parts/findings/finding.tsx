import type { ComponentChildren } from 'preact'
import { Fragment } from 'preact'
import { say } from '../../say.ts'

/** One question about a bed: its name in the margin, the answer beside it. */
export function Finding(props: { id: string; title: string; children: ComponentChildren }) {
  return (
    <section class="finding" aria-labelledby={props.id}>
      <h3 id={props.id} tabIndex={-1}>
        {props.title}
      </h3>
      <div class="answer">{props.children}</div>
    </section>
  )
}

/** Reasons on demand. */
export function Why({
  grounds,
  of,
  children,
}: {
  grounds: readonly string[]
  /** What is explained, for those who hear the page. */
  of: string
  children?: ComponentChildren
}) {
  if (grounds.length === 0 && children === undefined) return null
  return (
    <details class="why">
      <summary>
        {say`Why`}
        <span class="unseen">: {of}</span>
      </summary>
      {grounds.length > 0 && (
        <ul>
          {grounds.map((ground) => (
            <li key={ground}>{ground}</li>
          ))}
        </ul>
      )}
      {children}
    </details>
  )
}

/** What is there and what is still needed before anything can be said. */
export function NotYet({ have, need }: { have: string; need: string }) {
  return <p class="not-yet">{say`Not enough yet. There is: ${have}. Needed: ${need}.`}</p>
}

/** Names and values in two columns; rows without a value are left out. */
export function Facts({ rows }: { rows: readonly (readonly [string, ComponentChildren])[] }) {
  const known = rows.filter(([, value]) => value !== null && value !== false)
  if (known.length === 0) return null
  return (
    <dl class="facts">
      {known.map(([name, value]) => (
        <Fragment key={name}>
          <dt>{name}</dt>
          <dd>{value}</dd>
        </Fragment>
      ))}
    </dl>
  )
}
