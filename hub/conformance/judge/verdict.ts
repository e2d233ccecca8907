import { clipped } from '../../wire/problem.ts'
import type { Terms } from '../terms.ts'
import type { Watched } from './watched.ts'

/** The packet that broke a requirement. */
export interface Evidence {
  readonly topic: string
  /** The payload where it is text that can be shown. */
  readonly text?: string
  /** Else its bytes. */
  readonly hex?: string
}

export interface Verdict {
  readonly verdict: 'met' | 'not met' | 'not tested'
  /** What was seen, or why nothing could be. */
  readonly told: string
  readonly packet?: Evidence
}

/** Looks at what was watched and says whether one requirement is met. Pure. */
export type Judge = (all: Watched, terms: Terms) => Verdict

export const met = (told: string): Verdict => ({ verdict: 'met', told })
export const notTested = (told: string): Verdict => ({ verdict: 'not tested', told })

export function notMet(
  told: string,
  packet?: { readonly topic: string; readonly payload: Uint8Array },
): Verdict {
  return packet === undefined
    ? { verdict: 'not met', told }
    : { verdict: 'not met', told, packet: evidence(packet) }
}

const LONGEST = 600
/** Text that a terminal shows as it is. */
const SHOWABLE = /^[\t\u0020-\u007e\u00a0-\ud7ff]*$/

export function evidence(packet: {
  readonly topic: string
  readonly payload: Uint8Array
}): Evidence {
  const { topic } = packet
  const text = readable(packet.payload)
  if (text !== null && SHOWABLE.test(text)) return { topic, text: clipped(text, LONGEST) }
  return { topic, hex: clipped(Buffer.from(packet.payload).toString('hex'), LONGEST) }
}

function readable(payload: Uint8Array): string | null {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(payload)
  } catch {
    return null
  }
}

/** The first message that breaks a requirement by itself, if any does. */
export function brokenByMessage(all: Watched, requirement: string): Verdict | null {
  for (const message of all.messages) {
    const problem = message.problems.find(({ clause }) => clause === requirement)
    if (problem !== undefined) return notMet(problem.message, message)
  }
  return null
}

/** 'one reading', '3 readings'. */
export const counted = (count: number, one: string): string =>
  count === 1 ? `one ${one}` : `${count} ${one}s`

/** A time as people say it. */
export const lasting = (ms: number): string =>
  ms < 10_000 ? `${Number((ms / 1000).toPrecision(2))} s` : `${Math.round(ms / 1000)} s`
