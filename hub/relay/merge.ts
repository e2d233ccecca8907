import type { LoggedMessage } from '../store/intake-log.ts'

/** What has been read of one log and not handed on yet. */
export interface Stretch {
  readonly messages: readonly LoggedMessage[]
  /** The next of them to hand on. */
  next: number
  /** The log goes on behind them. */
  readonly more: boolean
}

/**
 * The next messages of several logs in the order they arrived, as one process would have heard them: the
 * readings of one probe are spread over all logs, and taken log by log they would look as if most were missing.
 * Ends before `most`, and where a log would have to be read on. Moves `next` of the stretches.
 */
export function merge<S extends Stretch>(
  stretches: readonly S[],
  most: number,
): readonly { readonly of: S; readonly message: LoggedMessage }[] {
  const merged: { of: S; message: LoggedMessage }[] = []
  while (merged.length < most) {
    let first: S | null = null
    let firstAt = Infinity
    for (const stretch of stretches) {
      const head = stretch.messages[stretch.next]
      if (head === undefined) {
        if (stretch.more) return merged
      } else if (head.arrivedAt < firstAt) {
        first = stretch
        firstAt = head.arrivedAt
      }
    }
    if (first === null) return merged
    merged.push({ of: first, message: first.messages[first.next]! })
    first.next++
  }
  return merged
}
