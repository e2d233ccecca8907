import { say } from '../../say.ts'

/** How far a guided job has come. */
export function Steps({ steps, at }: { steps: readonly string[]; at: number }) {
  return (
    <ol class="guide-steps" aria-label={say`Steps`}>
      {steps.map((words, i) => (
        <li key={words} class={i < at ? 'done' : ''} aria-current={i === at ? 'step' : undefined}>
          {i + 1}. {words}
        </li>
      ))}
    </ol>
  )
}
