/** What long work of a command has in hand. */
export interface AtWork {
  /** Aborted by Ctrl-C. */
  readonly signal: AbortSignal
  /** How much is done, 0 to 1. */
  readonly tell: (share: number) => void
}

/** Where words go, and whether a person looks on. */
interface Screen {
  readonly isTTY?: boolean
  write(text: string): unknown
}

const ON_SCREEN_MS = 200
/** Elsewhere a line for every tenth. */
const STEPS = 10
/** As a shell has it: 128 and the number of SIGINT. */
const INTERRUPTED = 130

/** Says how far work is: one line that changes on a terminal, a line for every tenth elsewhere. */
export function progressTo(
  what: string,
  screen: Screen,
  now: () => number,
): { tell(share: number): void; clear(): void } {
  const begun = now()
  let toldAt = -Infinity
  let step = 0
  return {
    tell(share) {
      const at = now()
      const percent = Math.floor(100 * share)
      if (screen.isTTY === true) {
        if (at - toldAt < ON_SCREEN_MS) return
        toldAt = at
        const left = share > 0.01 ? Math.ceil(((at - begun) * (1 - share)) / share / 1000) : null
        const rest = left === null ? '' : `, about ${left} s more`
        screen.write(`\r\u001B[K${percent} % ${what}${rest}`)
      } else if (Math.floor(share * STEPS) > step) {
        step = Math.floor(share * STEPS)
        screen.write(`${step * (100 / STEPS)} % ${what}\n`)
      }
    },
    clear() {
      if (screen.isTTY === true && toldAt > -Infinity) screen.write('\r\u001B[K')
    },
  }
}

/**
 * Does long work of a command, says on stderr how far it is, and lets Ctrl-C give it up cleanly: the work sees its
 * signal aborted and returns; the command then says what was kept and ends with code 130. A second Ctrl-C ends at once.
 */
export async function withProgress<T>(what: string, work: (at: AtWork) => Promise<T>): Promise<T> {
  const abort = new AbortController()
  const progress = progressTo(what, process.stderr, () => performance.now())
  const giveUp = (): void => {
    process.exitCode = INTERRUPTED
    abort.abort()
  }
  process.once('SIGINT', giveUp)
  try {
    return await work({ signal: abort.signal, tell: (share) => progress.tell(share) })
  } finally {
    process.off('SIGINT', giveUp)
    progress.clear()
  }
}
