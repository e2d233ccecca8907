import type { IngestLog } from '../ingest/front.ts'
import { MINUTE } from '../model/clock.ts'
import type { Clock } from '../model/clock.ts'
import type { IntakeLog } from '../store/intake-log.ts'

/** A process says every few seconds that it is there. */
const SILENT_MS = MINUTE

/** Which ingest processes have fallen silent. */
export interface SilenceWatch {
  /** What each process last said. */
  hear(said: Awaited<ReturnType<IntakeLog['beats']>>): void
  /** Since when a process has said nothing, epoch ms; null while it does. */
  since(writer: string): number | null
}

export function createSilenceWatch(options: {
  readonly clock: Clock
  readonly log: IngestLog
  /** One that stays away so long has been given up, and is silent no more. */
  readonly givenUpMs: number
}): SilenceWatch {
  const { clock, log, givenUpMs } = options
  const heard = new Map<
    string,
    { readonly beat: number; readonly at: number; readonly silent: boolean }
  >()

  return {
    hear(said) {
      const now = clock()
      for (const { writer, beat } of said) {
        const last = heard.get(writer)
        const at = last?.beat === beat ? last.at : now
        const silent = now - at > SILENT_MS && now - at < givenUpMs
        if (silent && last?.silent !== true)
          log.warn(
            `${writer} has said nothing for a minute. Its share of the readings waits at the broker or in its spool; ` +
              'probes send those again meanwhile',
          )
        if (!silent && last?.silent === true && at === now) log.info(`${writer} is back`)
        heard.set(writer, { beat, at, silent })
      }
    },
    since(writer) {
      const last = heard.get(writer)
      return last?.silent === true ? last.at : null
    },
  }
}
