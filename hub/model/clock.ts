/** Epoch milliseconds. The system clock in `hub.ts`, a settable one in tests; nothing pure knows "now". */
export type Clock = () => number

export const SECOND = 1000
export const MINUTE = 60 * SECOND
export const HOUR = 60 * MINUTE
export const DAY = 24 * HOUR
