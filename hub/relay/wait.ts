/** Waits, or ends early when told to stop; resolves to whether the time has passed. */
export function wait(ms: number, signal: AbortSignal): Promise<boolean> {
  return new Promise((resolve) => {
    if (signal.aborted) {
      resolve(false)
      return
    }
    const end = (passed: boolean) => () => {
      clearTimeout(timer)
      signal.removeEventListener('abort', giveUp)
      resolve(passed)
    }
    const giveUp = end(false)
    const timer = setTimeout(end(true), ms)
    signal.addEventListener('abort', giveUp, { once: true })
  })
}
