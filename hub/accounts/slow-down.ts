import { MINUTE, SECOND } from '../model/clock.ts'

export interface SlowDownOptions {
  /** Wrong tries that cost nothing. @default 4 */
  readonly free?: number
  /** Longest wait, ms. @default 5 minutes */
  readonly longest?: number
  /** Time without a wrong try after which one is forgotten, ms. @default 10 minutes */
  readonly forget?: number
  /** Most names or addresses remembered. @default 5000 */
  readonly most?: number
}

/** Makes guessing slow: each further wrong try doubles the wait until the next, and time takes tries back. */
export interface SlowDown {
  /** How long to wait before trying, ms; 0: try. */
  wait(key: string, at: number): number
  /** A try begins: until it ends well it counts as a wrong one, so that many at once are no way around. */
  begin(key: string, at: number): void
  /** It was right: what was wrong before is forgotten. */
  passed(key: string): void
}

const FIRST_WAIT = SECOND

interface Row {
  /** Wrong tries not yet forgotten; a bucket that drains with time. */
  level: number
  at: number
  nextAt: number
}

export function createSlowDown(options: SlowDownOptions = {}): SlowDown {
  const { free = 4, longest = 5 * MINUTE, forget = 10 * MINUTE, most = 5000 } = options
  const rows = new Map<string, Row>()

  function rowOf(key: string, at: number): Row {
    const row = rows.get(key) ?? { level: 0, at, nextAt: 0 }
    row.level = Math.max(0, row.level - Math.max(0, at - row.at) / forget)
    row.at = at
    return row
  }
  return {
    wait(key, at) {
      const row = rows.get(key)
      // A clock that is set back must not lock anybody out.
      return row === undefined ? 0 : Math.min(longest, Math.max(0, row.nextAt - at))
    },
    begin(key, at) {
      const row = rowOf(key, at)
      row.level += 1
      const beyond = Math.round(row.level) - free
      row.nextAt = beyond <= 0 ? 0 : at + Math.min(longest, FIRST_WAIT * 2 ** (beyond - 1))
      // The one used last stands last: the first is the one to forget.
      rows.delete(key)
      rows.set(key, row)
      if (rows.size > most) rows.delete(rows.keys().next().value!)
    },
    passed: (key) => void rows.delete(key),
  }
}
