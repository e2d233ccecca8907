import { createHash, randomBytes, randomInt } from 'node:crypto'

/** 256 bits: nobody finds one by trying. */
const SECRET_BYTES = 32
/** Characters nobody confuses when reading a code off a screen: base32 after RFC 4648. */
const CODE_ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ234567'
const CODE_LENGTH = 12

/** A new secret as 43 characters of base64url (RFC 4648), which no address or header takes amiss. */
export function makeSecret(): string {
  return randomBytes(SECRET_BYTES).toString('base64url')
}

/** What is kept of a secret, hexadecimal. A plain hash does: with 256 bits of chance there is no list to try. */
export function hashSecret(secret: string): string {
  return createHash('sha256').update(secret, 'utf8').digest('hex')
}

/** A code of 60 bits for people to type, in groups of four: `ABCD-EFGH-IJKL`. */
export function makeCode(): string {
  const letters = Array.from({ length: CODE_LENGTH }, () => CODE_ALPHABET[randomInt(32)])
  return letters.join('').replace(/(.{4})(?=.)/g, '$1-')
}

/** A code as it is compared: capitals, nothing but its letters and digits. */
export function plainCode(typed: string): string {
  return typed.toUpperCase().replace(/[^A-Z2-7]/g, '')
}
