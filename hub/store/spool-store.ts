/** A message as it came to an ingest process. */
export interface TakenMessage {
  readonly topic: string
  readonly payload: Uint8Array
  /** Epoch ms. */
  readonly arrivedAt: number
  /** The broker may have held it back while the process was away. */
  readonly mayBeDelayed: boolean
  /** A copy the broker kept. */
  readonly retain: boolean
  /** Why it is only kept aside; left out for one that can be used. */
  readonly refused?: string
}

/** A message with its number in its spool. */
export interface SpooledMessage extends TakenMessage {
  /** From 1, without holes. */
  readonly row: number
}

export interface SpoolState {
  /** Names this life of the spool: another one whenever its numbers begin anew. */
  readonly id: string
  /** The newest message; 0 when there is none. */
  readonly last: number
  /** Up to here the log has confirmed. */
  readonly delivered: number
  /** Up to here the serving hub is known to have taken from the log. */
  readonly taken: number
  /** Arrival of the oldest message the log has not confirmed, epoch ms; null when none waits. */
  readonly oldestWaitingAt: number | null
  /** On the disk. */
  readonly bytes: number
}

/** Where an ingest process keeps messages until they are in the log and taken from there. */
export interface SpoolStore {
  /** Resolves once all are durable (power-cut safe). Rejects with HubError HUB_STORE_UNAVAILABLE when none was kept. */
  append(messages: readonly TakenMessage[]): Promise<void>
  /** The messages after a number, ascending. */
  after(row: number, limit: number): Promise<readonly SpooledMessage[]>
  /** The log has confirmed up to `row`. A smaller number than before takes it back: they are sent again. */
  delivered(row: number): Promise<void>
  /** The serving hub has taken up to `row`. Deletes in slices what it has taken and the log has confirmed. */
  taken(row: number): Promise<void>
  /** Gives this spool a new id; what is not taken counts from 1 again, in its order, and waits to be sent. */
  renew(): Promise<void>
  state(): Promise<SpoolState>
  /** What the session at the broker may listen to, as it was noted last. */
  listening(): Promise<readonly string[]>
  setListening(topics: readonly string[]): Promise<void>
  close(): Promise<void>
}
