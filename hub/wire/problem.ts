/** One thing that is wrong with a message, in words a firmware author understands. */
export interface Problem {
  /** Where: `topic`, `payload`, or a member such as `v.ph` or `r.0.2`. */
  readonly path: string
  /** Requirement of firmware-spec it breaks, `LM-nn`. */
  readonly clause: string
  /** What was expected and what came. */
  readonly message: string
}

/** A value as it came, short enough for a sentence. */
export function shown(value: unknown): string {
  if (value === undefined) return 'nothing'
  if (typeof value === 'string') return `the text ${JSON.stringify(clipped(value, 32))}`
  if (typeof value === 'number') return Number.isFinite(value) ? String(value) : 'no finite number'
  return clipped(JSON.stringify(value) ?? typeof value, 40)
}

/** At most `length` characters, with an ellipsis where something was cut. */
export function clipped(text: string, length: number): string {
  return text.length <= length ? text : `${text.slice(0, length - 1)}…`
}
