import { DAY, MINUTE, SECOND } from '../model/clock.ts'

/** The times and counts of the specification a probe is held to. */
export interface Terms {
  /** Keep-alive, s, least and most (LM-21). */
  readonly keepAliveS: readonly [number, number]
  /** A dead link is noticed within 1.5 keep-alives and this, ms (LM-21). */
  readonly deadLinkMs: number
  /** Pauses before connecting again, ms: from the first up to the longest at least (LM-22). */
  readonly firstPauseMs: number
  readonly longestPauseMs: number
  /** Readings a buffered probe can hold back (LM-23). */
  readonly held: number
  /** Wait for an acknowledgement before sending again, ms (LM-26). */
  readonly resendMs: number
  /** Least time between two messages while sending again, ms (LM-26). */
  readonly betweenMs: number
  /** Oldest reading at up/r, ms by the probe's own count of seconds (LM-15). */
  readonly freshMs: number
  /** Time an answer to settings or to a command is waited for, ms. */
  readonly answerMs: number
  /** Trouble a probe has to outlive without a hand on it, ms (LM-35). */
  readonly soakMs: number
}

export const SPECIFIED: Terms = {
  keepAliveS: [15, 300],
  deadLinkMs: 10 * SECOND,
  firstPauseMs: SECOND,
  longestPauseMs: MINUTE,
  held: 96,
  resendMs: MINUTE,
  betweenMs: SECOND,
  freshMs: 10 * SECOND,
  answerMs: 10 * SECOND,
  soakMs: DAY,
}

/**
 * The same terms for a probe whose pauses are `pace` times as short, so that a test need not wait. What a
 * probe counts in its payloads stays as it is.
 */
export function hastened(terms: Terms, pace: number): Terms {
  return {
    ...terms,
    keepAliveS: [terms.keepAliveS[0] / pace, terms.keepAliveS[1]],
    firstPauseMs: terms.firstPauseMs / pace,
    longestPauseMs: terms.longestPauseMs / pace,
    resendMs: terms.resendMs / pace,
    betweenMs: terms.betweenMs / pace,
    answerMs: terms.answerMs / pace,
  }
}
