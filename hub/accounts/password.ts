import { argon2, randomBytes, timingSafeEqual } from 'node:crypto'

/** Costs of one hash. */
interface Costs {
  /** KiB. */
  readonly memory: number
  readonly passes: number
  readonly parallelism: number
}

/**
 * argon2id at costs that a small home server bears: 46 MiB, one pass, one lane, one of the
 * equally strong settings of the OWASP Password Storage Cheat Sheet (from memory). RFC 9106 section 4 would rather
 * have 64 MiB, 3 passes and 4 lanes where there are cores and memory for it; salt and tag are as long as it says there.
 */
const COSTS: Costs = { memory: 46 * 1024, passes: 1, parallelism: 1 }
const SALT_BYTES = 16
const TAG_BYTES = 32
/** Of RFC 9106: 0x13. */
const VERSION = 19
const FORM =
  /^\$argon2id\$v=19\$m=(\d+),t=(\d+),p=(\d+)\$([A-Za-z0-9+/]{11,})\$([A-Za-z0-9+/]{43})$/

/** NIST SP 800-63B 3.1.1.2 (from memory): one form for what looks alike, however a keyboard made it. */
const plain = (password: string): string => password.normalize('NFKC')
const base64 = (bytes: Buffer): string => bytes.toString('base64').replace(/=+$/, '')

/** argon2id (RFC 9106) in the background: the thread that answers requests never waits for it. */
function tagOf(password: string, salt: Buffer, costs: Costs): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    argon2(
      'argon2id',
      { message: plain(password), nonce: salt, tagLength: TAG_BYTES, ...costs },
      (error, tag) => {
        if (error) reject(error)
        else resolve(tag)
      },
    )
  })
}

/** `$argon2id$v=19$m=47104,t=1,p=1$salt$tag`, salt and tag in base64 without padding. */
export async function hashPassword(password: string): Promise<string> {
  const salt = randomBytes(SALT_BYTES)
  const tag = await tagOf(password, salt, COSTS)
  const { memory, passes, parallelism } = COSTS
  return `$argon2id$v=${VERSION}$m=${memory},t=${passes},p=${parallelism}$${base64(salt)}$${base64(tag)}`
}

/** Whether a password is the one a hash was made of, at whatever costs that was. */
export async function isPassword(password: string, hash: string): Promise<boolean> {
  const parts = FORM.exec(hash)
  if (parts === null) throw new Error('a stored hash of a password is not one of ours')
  const [, memory, passes, parallelism, salt, tag] = parts
  const given = await tagOf(password, Buffer.from(salt!, 'base64'), {
    memory: Number(memory),
    passes: Number(passes),
    parallelism: Number(parallelism),
  })
  return timingSafeEqual(given, Buffer.from(tag!, 'base64'))
}

/** A hash nobody knows the password of: a name that is not there must take as long as one that is. */
export const hashOfNobody = (): Promise<string> => hashPassword(randomBytes(32).toString('hex'))

/** Fewest characters. NIST SP 800-63B asks for 8 at least and for no rules of composition (from memory). */
export const SHORTEST_PASSWORD = 10
export const LONGEST_PASSWORD = 200

/** What makes a password one that is guessed first; null: nothing. */
export function weakness(
  password: string,
  name: string,
): 'short' | 'long' | 'same letters' | 'the name' | null {
  const text = plain(password)
  const letters = Array.from(text)
  if (letters.length < SHORTEST_PASSWORD) return 'short'
  if (letters.length > LONGEST_PASSWORD) return 'long'
  if (new Set(letters).size < 4) return 'same letters'
  const small = text.toLowerCase()
  const own = plain(name).toLowerCase()
  // The name alone, or with little put behind it.
  return own !== '' && small.startsWith(own) && small.length - own.length < 4 ? 'the name' : null
}
