import { pbkdf2, randomBytes, scrypt, timingSafeEqual } from 'node:crypto'
import { promisify } from 'node:util'

const ALPHABET = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ234567'
const LENGTH = 26

/**
 * A new password: 26 characters of base32 (RFC 4648), 130 bits of chance. Short enough for the CONNECT
 * packet of a small client, and nothing in it that a shell, a C string or a URL would take amiss.
 */
export function makePassword(): string {
  // 256 is a multiple of 32: no character is likelier than another.
  return Array.from(randomBytes(LENGTH), (byte) => ALPHABET[byte & 31]).join('')
}

/** Parameters of scrypt (RFC 7914): 16 MiB and some 40 ms a check. */
const LOG2_N = 14
const R = 8
const P = 1
const SCRYPT_BYTES = 32

function scryptOf(password: Buffer | string, salt: Buffer, log2N: number): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    scrypt(
      password,
      salt,
      SCRYPT_BYTES,
      { N: 2 ** log2N, r: R, p: P, maxmem: 256 * 2 ** log2N * R },
      (error, key) => {
        if (error) reject(error)
        else resolve(key)
      },
    )
  })
}

/** `$scrypt$ln=14,r=8,p=1$salt$hash`, salt and hash in base64. */
export async function hashPassword(password: string): Promise<string> {
  const salt = randomBytes(16)
  const key = await scryptOf(password, salt, LOG2_N)
  return `$scrypt$ln=${LOG2_N},r=${R},p=${P}$${salt.toString('base64')}$${key.toString('base64')}`
}

/** Whether a password is the one a hash was made of. */
export async function isPassword(password: Buffer, hash: string): Promise<boolean> {
  const parts = hash.match(/^\$scrypt\$ln=(\d+),r=8,p=1\$([A-Za-z0-9+/=]+)\$([A-Za-z0-9+/=]+)$/)
  if (parts === null) throw new Error('a stored hash of a password is not one of ours')
  const [, log2N, salt, key] = parts
  const expected = Buffer.from(key!, 'base64')
  const given = await scryptOf(password, Buffer.from(salt!, 'base64'), Number(log2N))
  return timingSafeEqual(given, expected)
}

/** mosquitto's own count for the `$7$` kind; with 130 bits of chance in the password it does not matter. */
const BROKER_ITERATIONS = 101
const BROKER_SALT_BYTES = 12

/**
 * A password as mosquitto's password file holds it: `$7$iterations$salt$hash`, PBKDF2 with SHA-512, 64
 * bytes, salt and hash in base64 (mosquitto_passwd(1); held to the program itself by a test).
 *
 * @param salt @default 12 bytes of chance
 */
export async function brokerHash(
  password: string,
  salt: Buffer = randomBytes(BROKER_SALT_BYTES),
  iterations = BROKER_ITERATIONS,
): Promise<string> {
  const key = await promisify(pbkdf2)(password, salt, iterations, 64, 'sha512')
  return `$7$${iterations}$${salt.toString('base64')}$${key.toString('base64')}`
}
