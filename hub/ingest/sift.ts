import type { Quarantined } from '../model/reading.ts'
import { decode, HUB_LIMIT_BYTES } from '../wire/payload.ts'
import type { Decoded } from '../wire/payload.ts'
import type { Arrival } from './ingest.ts'

/** A message that can be used, and how it came. */
export interface Item {
  readonly arrival: Arrival
  readonly message: Decoded
}

/** What a batch holds. */
export interface Sifted {
  readonly usable: readonly Item[]
  readonly quarantined: Quarantined[]
  /** Kept copies of readings and batches: neither readings nor anchors. */
  readonly retainedIgnored: number
  /** Puts a message aside after all. `alike`: what makes a warning of it the same. */
  readonly aside: (arrival: Arrival, reason: string, alike?: string) => void
}

/** Reads the messages of a batch and puts aside what nobody can use. */
export function sift(
  batch: readonly Arrival[],
  warnOnce: (topic: string, reason: string, alike?: string) => void,
): Sifted {
  const usable: Item[] = []
  const quarantined: Quarantined[] = []
  let retainedIgnored = 0

  function aside(arrival: Arrival, reason: string, alike?: string): void {
    const { arrivedAt, topic, payload } = arrival
    // A copy: the payload is a window on a whole socket read.
    const kept = new Uint8Array(payload.subarray(0, HUB_LIMIT_BYTES))
    quarantined.push({ arrivedAt, topic, payload: kept, reason })
    warnOnce(topic, reason, alike)
  }

  for (const arrival of batch) {
    const message = decode(arrival.topic, arrival.payload)
    if (arrival.refused !== undefined) aside(arrival, arrival.refused)
    else if ('problems' in message)
      aside(arrival, message.problems.map((p) => `${p.message} [${p.clause}]`).join('; '))
    else if (isDownward(message))
      aside(arrival, `topic: only the hub writes ${arrival.topic} [LM-30]`)
    else if (arrival.retain && !isDescription(message)) retainedIgnored++
    else {
      for (const note of message.notes) warnOnce(arrival.topic, `${note.message} [${note.clause}]`)
      usable.push({ arrival, message })
    }
  }
  return { usable, quarantined, retainedIgnored, aside }
}

function isDownward({ kind }: Decoded): boolean {
  return kind === 'ack' || kind === 'cfg' || kind === 'cmd' || kind === 'time'
}

function isDescription({ kind }: Decoded): boolean {
  return kind === 'state' || kind === 'birth' || kind === 'channel'
}
