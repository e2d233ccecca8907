import { argon2Sync } from 'node:crypto'
import { performance } from 'node:perf_hooks'
import { describe, expect, test } from 'vitest'
import { hashPassword, isPassword, weakness } from '#hub/accounts/password.ts'

describe('argon2id', () => {
  test('of the engine gives the tag of RFC 9106 section 5.3', () => {
    const tag = argon2Sync('argon2id', {
      message: Buffer.alloc(32, 1),
      nonce: Buffer.alloc(16, 2),
      secret: Buffer.alloc(8, 3),
      associatedData: Buffer.alloc(12, 4),
      parallelism: 4,
      memory: 32,
      passes: 3,
      tagLength: 32,
    })
    expect(tag.toString('hex')).toBe(
      '0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659',
    )
  })

  // The reference implementation's own test, phc-winner-argon2 src/test.c (from memory).
  test('a hash that another program made is understood', async () => {
    const hash =
      '$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc'
    expect(await isPassword('password', hash)).toBe(true)
    expect(await isPassword('Password', hash)).toBe(false)
  })

  test('is stored at the costs of the OWASP Password Storage Cheat Sheet, with a salt of its own', async () => {
    const [one, two] = await Promise.all([
      hashPassword('worms like rain'),
      hashPassword('worms like rain'),
    ])
    expect(one).toMatch(/^\$argon2id\$v=19\$m=47104,t=1,p=1\$[A-Za-z0-9+/]{22}\$[A-Za-z0-9+/]{43}$/)
    expect(one).not.toBe(two)
    expect(await isPassword('worms like rain', one)).toBe(true)
    expect(await isPassword('worms like rain ', one)).toBe(false)
    expect(await isPassword('', one)).toBe(false)
  })

  test('the same letters typed in another way are the same password', async () => {
    // é as one character, and as e with an accent; NFKC makes one of both.
    const hash = await hashPassword('caf\u00e9 in the beds')
    expect(await isPassword('cafe\u0301 in the beds', hash)).toBe(true)
  })

  test('never holds up the thread that answers requests', async () => {
    let longest = 0
    let last = performance.now()
    let ticks = 0
    const timer = setInterval(() => {
      ticks += 1
      longest = Math.max(longest, performance.now() - last)
      last = performance.now()
    }, 2)
    const startedAt = performance.now()
    await Promise.all([hashPassword('one of several'), hashPassword('two of several')])
    const took = performance.now() - startedAt
    clearInterval(timer)
    expect(ticks).toBeGreaterThan(5)
    expect(longest, 'the thread stood still for most of a hash').toBeLessThan(took * 0.7)
  })

  test('a hash that is none of ours is a mistake, not a wrong password', async () => {
    await expect(isPassword('x', '$2b$10$abc')).rejects.toThrow('not one of ours')
  })
})

test.each([
  ['short', 'short one', 'Ash'],
  ['long', 'x1y2'.repeat(51), 'Ash'],
  ['same letters', 'aaaaaaaaaaaa', 'Ash'],
  ['same letters', 'ababababababab', 'Ash'],
  ['the name', 'Robin Hedgerow', 'robin hedgerow'],
  ['the name', 'robinhedgerow12', 'robinhedgerow'],
  [null, 'robinhedgerow and the snails', 'robinhedgerow'],
  [null, 'worms like rain', 'Ash'],
  // Ten characters, though more code units.
  [null, '🌱🌿🍅🥕🌱🌿🍅🥕🌱🌧', 'Ash'],
] as const)('%s: %s', (expected, password, name) => {
  expect(weakness(password, name)).toBe(expected)
})
