/** Lets so many run at once, and so many more wait their turn. */
export interface Gate {
  /** Runs `work` when its turn has come; null at once when too many wait already. */
  pass<T>(work: () => Promise<T>): Promise<T> | null
}

export function createGate(atOnce: number, waiting: number): Gate {
  let running = 0
  const queue: (() => void)[] = []
  async function run<T>(work: () => Promise<T>): Promise<T> {
    if (running >= atOnce) await new Promise<void>((resolve) => queue.push(resolve))
    else running += 1
    try {
      return await work()
    } finally {
      const next = queue.shift()
      // The place goes straight to the next: nobody can slip in between.
      if (next === undefined) running -= 1
      else next()
    }
  }
  return {
    pass: (work) => (running >= atOnce && queue.length >= waiting ? null : run(work)),
  }
}
