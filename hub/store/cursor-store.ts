import type { LogName } from './intake-log.ts'

/** How far the serving hub has taken one log. */
export interface Cursor extends LogName {
  /** The last row taken. */
  readonly row: number
}

/** Where the serving hub remembers how far it is. */
export interface CursorStore {
  all(): Promise<readonly Cursor[]>
  /** All in one commit. `at`: epoch ms. */
  keep(cursors: readonly Cursor[], at: number): Promise<void>
  /** Rows that were taken before a moment, epoch ms, by whole days: logs may be trimmed up to there. */
  takenBefore(at: number): Promise<readonly Cursor[]>
  close(): Promise<void>
}
