import type { FrontState, IngestLog } from '../ingest/front.ts'
import type { Downlink, Ingest } from '../ingest/ingest.ts'
import type { Clock } from '../model/clock.ts'
import type { CursorStore } from '../store/cursor-store.ts'
import type { IntakeLog } from '../store/intake-log.ts'
import { startLogReading } from './log-reading.ts'
import type { LogReadingOptions, LogView } from './log-reading.ts'

export interface ServingRoleOptions extends Pick<
  LogReadingOptions,
  'hub' | 'keepDays' | 'everyMs' | 'tellEveryMs' | 'backOffMs'
> {
  readonly intake: IntakeLog
  readonly cursors: CursorStore
  readonly ingest: Pick<Ingest, 'ingest'>
  /** Sends what the hub answers; what cannot go out now is said again at the probe's next sign of life. */
  readonly publish: (downlink: Downlink) => Promise<void>
  readonly clock: Clock
  readonly log: IngestLog
}

/** The way in of a serving hub for what ingest processes took. */
export interface ServingRole {
  state(): FrontState
  onState(listener: (state: FrontState) => void): () => void
  logs(): readonly LogView[]
  stop(): Promise<void>
}

export function openServingRole(options: ServingRoleOptions): ServingRole {
  const { intake, cursors, ingest, publish } = options
  const reading = startLogReading({
    ...options,
    ingest: (batch) => ingest.ingest(batch),
    onDownlinks(downlinks) {
      for (const downlink of downlinks) publish(downlink).catch(() => {})
    },
  })
  return {
    state: () => reading.state(),
    onState: (listener) => reading.onState(listener),
    logs: () => reading.logs(),
    async stop() {
      const ends = reading.stop()
      // An answer that does not come is waited for no longer.
      await intake.close()
      await ends
      await cursors.close()
    },
  }
}
