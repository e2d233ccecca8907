/** State of the way in. */
export interface FrontState {
  readonly state: 'up' | 'connecting' | 'down'
  /** Since when, epoch ms. */
  readonly since: number
  /** Why it is not up, in a sentence. */
  readonly problem: string | null
}

/** Where MQTT messages come in and go out: the hub's own broker, or somebody else's. */
export interface Front {
  readonly kind: 'embedded' | 'external'
  /** As a probe or a person would write it, `mqtt://host:port`. */
  readonly address: string
  /** The same over TLS; null where there is no such way. */
  readonly encryptedAddress: string | null
  state(): FrontState
  /** Calls back on every change of state. Returns an unsubscribe. */
  onState(listener: (state: FrontState) => void): () => void
  /** Resolves once the broker has the message. Rejects with HUB_BROKER_UNAVAILABLE when it cannot have it. */
  publish(topic: string, payload: string, options: { readonly retain: boolean }): Promise<void>
  stop(): Promise<void>
}

/** Where the ingest and its fronts say what a gardener or a firmware author should know. */
export interface IngestLog {
  warn(message: string): void
  info(message: string): void
}

/** Remembers a state and tells those who asked about every change of it. */
export function createStateKeeper(
  first: Omit<FrontState, 'since'>,
  clock: () => number,
): {
  readonly get: () => FrontState
  readonly set: (state: FrontState['state'], problem: string | null) => void
  readonly onState: (listener: (state: FrontState) => void) => () => void
} {
  let current: FrontState = { ...first, since: clock() }
  const listeners = new Set<(state: FrontState) => void>()
  return {
    get: () => current,
    set(state, problem) {
      if (state === current.state && problem === current.problem) return
      const since = state === current.state ? current.since : clock()
      current = { state, problem, since }
      for (const listener of listeners) listener(current)
    },
    onState(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
  }
}
