import { createHmac } from 'node:crypto'

/** Second since 1970 at which a request was signed. */
export const TIMESTAMP_HEADER = 'loamline-timestamp'
export const SIGNATURE_HEADER = 'loamline-signature'

/**
 * `sha256=` and, in hexadecimal, HMAC-SHA256 (RFC 2104) over the timestamp, a full stop and the body. With the
 * timestamp inside, an old request cannot be played back as a new one.
 *
 * @param timestamp as sent, seconds since 1970
 */
export const signatureOf = (key: string, timestamp: string, body: string): string =>
  `sha256=${createHmac('sha256', key).update(`${timestamp}.${body}`).digest('hex')}`
