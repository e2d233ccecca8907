import examples from './examples.json' with { type: 'json' }

interface Example {
  /** A body to send. */
  readonly sent?: unknown
  /** What was answered to the like of it. */
  readonly answer?: unknown
}

/** Examples by `method /address`, from the invented demo garden; made by `tests/support/record-examples.ts`. */
export const EXAMPLES: Readonly<Record<string, Example>> = examples
