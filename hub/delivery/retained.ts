/** Sends one retained message; rejects when the broker did not take it. */
export type Publish = (
  topic: string,
  payload: string,
  options: { readonly retain: boolean },
) => Promise<void>

export interface RetainedDelivery {
  /** What should stand on a topic; '' clears it. Only the newest wish per topic is sent. */
  set(topic: string, payload: string): void
  /** The broker is back, maybe empty: everything that should stand is sent again. */
  resend(): void
  /** Topics whose newest wish has not been taken by the broker yet. */
  waiting(): readonly string[]
  stop(): void
}

const FIRST_RETRY_MS = 1000
const LAST_RETRY_MS = 60_000

/**
 * Keeps retained topics as they should be. Nothing is lost while the broker is away: the newest state of
 * every topic is sent when it is back.
 */
export function createRetainedDelivery(
  publish: Publish,
  onTrouble: (message: string) => void,
): RetainedDelivery {
  const wanted = new Map<string, string>()
  const dirty = new Set<string>()
  let busy = false
  let stopped = false
  let retryMs = FIRST_RETRY_MS
  let timer: NodeJS.Timeout | undefined

  const next = (): string | undefined => dirty.values().next().value

  async function flush(): Promise<void> {
    if (busy || stopped) return
    busy = true
    clearTimeout(timer)
    // Wishes may come while one is on its way: go on until none is left.
    for (let topic = next(); topic !== undefined && !stopped; topic = next()) {
      const payload = wanted.get(topic) ?? ''
      try {
        await publish(topic, payload, { retain: true })
      } catch (error) {
        onTrouble(
          `${topic} could not be published: ${(error as Error).message}; next try in ${retryMs / 1000} s`,
        )
        timer = setTimeout(start, retryMs)
        timer.unref()
        retryMs = Math.min(LAST_RETRY_MS, retryMs * 2)
        break
      }
      retryMs = FIRST_RETRY_MS
      if (wanted.get(topic) === payload) {
        dirty.delete(topic)
        if (payload === '') wanted.delete(topic)
      }
    }
    busy = false
  }
  function start(): void {
    void flush()
  }

  return {
    set(topic, payload) {
      wanted.set(topic, payload)
      dirty.add(topic)
      start()
    },
    resend() {
      for (const topic of wanted.keys()) dirty.add(topic)
      retryMs = FIRST_RETRY_MS
      start()
    },
    waiting: () => [...dirty],
    stop() {
      stopped = true
      clearTimeout(timer)
    },
  }
}
