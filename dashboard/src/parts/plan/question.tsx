import type { ComponentChildren } from 'preact'

/** One question of the plan page: its name in the margin, the answer beside it. */
export function Question(props: {
  readonly id: string
  readonly title: string
  readonly children: ComponentChildren
}) {
  return (
    <section class="question" aria-labelledby={props.id}>
      <h2 id={props.id} tabIndex={-1}>
        {props.title}
      </h2>
      <div class="answer">{props.children}</div>
    </section>
  )
}
