/**
 * Faults of the world around the hub. Every code stands in this table and in DEVELOPERS.md;
 * a test holds the two to each other.
 */
export const ERROR_CODES = {
  HUB_CONFIG: 'a setting is missing or cannot be used; the message names it',
  HUB_STORE_UNAVAILABLE: 'the data folder or a database in it cannot be opened, read or written',
  HUB_STORE_LOCKED: 'another hub is running on this data folder',
  HUB_BROKER_UNAVAILABLE: 'the MQTT broker cannot be reached or refused the hub',
  HUB_PORT_IN_USE: 'a port the hub should listen on is taken',
} as const
export type ErrorCode = keyof typeof ERROR_CODES

/** A fault outside the hub's own code. `retry` tells whether trying again can help. */
export class HubError extends Error {
  override readonly name = 'HubError'
  readonly code: ErrorCode
  readonly retry: boolean

  constructor(code: ErrorCode, message: string, options: { retry: boolean; cause?: unknown }) {
    super(message, options.cause === undefined ? undefined : { cause: options.cause })
    this.code = code
    this.retry = options.retry
  }
}
