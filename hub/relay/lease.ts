import { SECOND } from '../model/clock.ts'
import type { Clock } from '../model/clock.ts'
import type { IntakeLog, Reader, Taken } from '../store/intake-log.ts'

/** A hub that has said nothing for so long is believed to have gone. */
const SILENT_MS = 30 * SECOND

/** One hub alone reads the logs: two would answer every probe twice and trim what the other needs. */
export interface Lease {
  /** Whether this hub may read, or a sentence why not. Rejects while the log is away. */
  hold(): Promise<string | null>
  held(): boolean
  /** Says that it is there, and how far it is. */
  tell(taken: readonly Taken[]): Promise<void>
}

export function createLease(options: {
  readonly intake: Pick<IntakeLog, 'reader' | 'tell'>
  readonly hub: string
  readonly clock: Clock
}): Lease {
  const { intake, hub, clock } = options
  let other: (Reader & { readonly since: number }) | null = null
  let beat = 0
  let mine = false

  return {
    async hold() {
      const reader = await intake.reader()
      if (reader === null || reader.hub === hub) {
        other = null
        beat = Math.max(beat, reader?.beat ?? 0)
        mine = true
        return null
      }
      if (other?.hub !== reader.hub || other.beat !== reader.beat)
        other = { ...reader, since: clock() }
      mine = clock() - other.since >= SILENT_MS
      return mine
        ? null
        : `another hub (${reader.hub.slice(0, 8)}) reads the intake log, or did so a moment ago; one alone may`
    },
    held: () => mine,
    async tell(taken) {
      beat++
      await intake.tell(taken, { hub, beat })
    },
  }
}
