/** Which sequence numbers of one boot are stored: what an acknowledgement may say. */
export interface Ledger {
  /** Every number up to and including this one is stored or written off; -1 when none. */
  readonly top: number
  /** How many of those are written off. */
  readonly lost: number
  /** The highest number known to have been taken; -1 when none. */
  readonly highest: number
  /** How many below `highest` are neither stored nor written off. */
  readonly missing: number
  /** The first run of missing numbers, or null. */
  readonly hole: { readonly from: number; readonly count: number } | null
  /** Notes a stored number. */
  take(seq: number): void
  /**
   * The probe holds nothing older than `seq` any more: what is missing below is written off.
   * Only a batch proves that, since it begins with the oldest reading still held (LM-24).
   */
  startAt(seq: number): void
}

/** What is remembered of a boot: `ahead` are numbers stored beyond `top`, ascending. */
export interface LedgerMemory {
  readonly top: number
  readonly lost: number
  readonly ahead: readonly number[]
}

/** A run of numbers, both ends included. A probe that never fills a hole leaves two runs, not a long list. */
interface Run {
  from: number
  to: number
}

/** Takes up the bookkeeping of one boot where it was left. */
export function createLedger(memory: LedgerMemory): Ledger {
  let { top, lost } = memory
  const runs: Run[] = []
  /** How many numbers the runs hold. */
  let ahead = 0
  for (const seq of memory.ahead) if (insert(runs, seq)) ahead++
  absorb()

  function absorb(): void {
    const [first] = runs
    if (first === undefined || first.from > top + 1) return
    top = Math.max(top, first.to)
    ahead -= first.to - first.from + 1
    runs.shift()
  }

  return {
    get top() {
      return top
    },
    get lost() {
      return lost
    },
    get highest() {
      return runs.at(-1)?.to ?? top
    },
    get missing() {
      return this.highest - top - ahead
    },
    get hole() {
      const [next] = runs
      return next === undefined ? null : { from: top + 1, count: next.from - top - 1 }
    },
    take(seq) {
      if (seq <= top) return
      if (seq === top + 1 && runs.length === 0) {
        top = seq
        return
      }
      if (insert(runs, seq)) ahead++
      absorb()
    },
    startAt(seq) {
      let floor = seq - 1
      if (floor <= top) return
      let missing = floor - top
      for (let run = runs[0]; run !== undefined && run.from <= floor; run = runs[0]) {
        missing -= Math.min(run.to, floor) - run.from + 1
        floor = Math.max(floor, run.to)
        ahead -= run.to - run.from + 1
        runs.shift()
      }
      lost += missing
      top = floor
      absorb()
    },
  }
}

/** Adds a number to ascending runs that never touch each other; false when it was there. */
function insert(runs: Run[], seq: number): boolean {
  let low = 0
  let high = runs.length
  while (low < high) {
    const middle = (low + high) >> 1
    if ((runs[middle]?.to ?? Infinity) < seq - 1) low = middle + 1
    else high = middle
  }
  // `low` is now the first run that ends at `seq - 1` or later.
  const run = runs[low]
  if (run === undefined || run.from > seq + 1) {
    runs.splice(low, 0, { from: seq, to: seq })
    return true
  }
  if (run.from <= seq && seq <= run.to) return false
  run.from = Math.min(run.from, seq)
  run.to = Math.max(run.to, seq)
  const next = runs[low + 1]
  if (next !== undefined && next.from <= run.to + 1) {
    run.to = Math.max(run.to, next.to)
    runs.splice(low + 1, 1)
  }
  return true
}
