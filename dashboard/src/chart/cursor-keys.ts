/** What a key asks of the cursor of a chart. */
export type CursorStep = { readonly to: number } | { readonly zoom: number } | 'reset' | null

/** Columns that a bigger step passes: a tenth of what is shown. */
const bigger = (count: number): number => Math.max(2, Math.round(count / 10))

/**
 * Where a key takes the cursor among `count` columns, from the one it is at: arrows by one, with shift or Page keys
 * by a bigger step, Home and End; plus and minus zoom, Escape goes back. Null: the key is not the chart's.
 */
export function cursorStep(
  key: string,
  { at, count, shift }: { readonly at: number; readonly count: number; readonly shift: boolean },
): CursorStep {
  const by = shift ? bigger(count) : 1
  const to = (place: number): CursorStep =>
    count === 0 ? null : { to: Math.min(count - 1, Math.max(0, place)) }
  switch (key) {
    case 'ArrowRight':
    case 'ArrowUp':
      return to(at + by)
    case 'ArrowLeft':
    case 'ArrowDown':
      return to(at - by)
    case 'PageUp':
      return to(at + bigger(count))
    case 'PageDown':
      return to(at - bigger(count))
    case 'Home':
      return to(0)
    case 'End':
      return to(count - 1)
    case '+':
    case '=':
      return { zoom: 0.5 }
    case '-':
    case '_':
      return { zoom: 2 }
    case 'Escape':
      return 'reset'
    default:
      return null
  }
}
