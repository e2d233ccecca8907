import type { MessageItem, MessageHold, Route } from '../../model/route.ts'
import type { Letter } from '../words/letter.ts'

/** One message on its way out. */
export interface Outgoing {
  readonly uid: string
  readonly madeAt: number
  readonly held: MessageHold | null
  readonly items: readonly MessageItem[]
  /** A test that the gardener asked for. */
  readonly test: boolean
  /** It may have arrived before. */
  readonly maybeSent: boolean
  readonly letter: Letter
  /** What stands on top of a letter that may be a repeat; else null. */
  readonly note: string | null
}

/**
 * How a try ended. `refused`: it did not arrive, trying again can help. `never`: it did not arrive and never will.
 * `unsure`: the line broke when the other side may have had it already.
 */
export interface Outcome {
  readonly what: 'sent' | 'refused' | 'never' | 'unsure'
  /** What the other side answered, or why there is no answer; for people, one line. */
  readonly answer: string
}

/** Sends one message by one way. Resolves however it ends; throws for mistakes of ours only. */
export type Sender = (route: Route, secret: string | null, message: Outgoing) => Promise<Outcome>

/** What another side said, short enough to be shown: it is text of others. */
export const shownAnswer = (text: string): string => {
  const line = text.replaceAll(/\p{C}+|\s+/gu, ' ').trim()
  return line.length > 300 ? `${line.slice(0, 299)}…` : line
}

/** Why something could not be reached, as the system said it. */
export function troubleOf(error: unknown): string {
  if (error instanceof AggregateError) return error.errors.map(troubleOf).join('; ')
  return error instanceof Error ? shownAnswer(error.message) : String(error)
}
