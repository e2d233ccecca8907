import { expect, test } from 'vitest'
import { hashPassword, isPassword, makePassword } from '#hub/ingest/password.ts'
import { openProbePasswords } from '#hub/ingest/probe-passwords.ts'
import { memoryCredentials } from '#tests/support/memory-credentials.ts'

test('a password is 26 characters of base32, each as likely as the others', () => {
  const made = Array.from({ length: 4000 }, makePassword)
  expect(new Set(made).size).toBe(made.length)
  const counts = new Map<string, number>()
  for (const password of made) {
    expect(password).toMatch(/^[A-Z2-7]{26}$/)
    for (const c of password) counts.set(c, (counts.get(c) ?? 0) + 1)
  }
  expect(counts.size).toBe(32)
  // Chi square with 31 degrees of freedom is beyond 100 once in some 10^9 runs.
  const expected = (made.length * 26) / 32
  const chi2 = [...counts.values()].reduce((sum, n) => sum + (n - expected) ** 2 / expected, 0)
  expect(chi2).toBeLessThan(100)
})

test('a hash fits its own password alone, and is salted', async () => {
  const hash = await hashPassword('SECRET')
  expect(hash).not.toContain('SECRET')
  expect(await hashPassword('SECRET')).not.toBe(hash)
  expect(await isPassword(Buffer.from('SECRET'), hash)).toBe(true)
  for (const wrong of ['', 'secret', 'SECRET ', 'SECRE'])
    expect(await isPassword(Buffer.from(wrong), hash)).toBe(false)
  await expect(isPassword(Buffer.from('x'), 'plain')).rejects.toThrow('not one of ours')
})

test('scrypt is that of RFC 7914', async () => {
  // RFC 7914, section 12: P = "pleaseletmein", S = "SodiumChloride", N = 16384, r = 8, p = 1, first 32 bytes.
  const salt = Buffer.from('SodiumChloride').toString('base64')
  const key = Buffer.from(
    '7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2',
    'hex',
  ).toString('base64')
  const hash = `$scrypt$ln=14,r=8,p=1$${salt}$${key}`
  expect(await isPassword(Buffer.from('pleaseletmein'), hash)).toBe(true)
})

test('passwords hold over a restart; a change is known at once', async () => {
  const store = memoryCredentials()
  const before = await openProbePasswords(store, () => 1000, null)
  const password = Buffer.from(await before.make('bed3a'))
  const after = await openProbePasswords(store, () => 2000, null)
  expect(after.state('bed3a')).toBe('set')
  expect(after.since('bed3a')).toBe(1000)
  expect(await after.check('bed3a', password)).toBe(true)
  expect(await after.check('bed3a', password)).toBe(true)
  expect(await after.check('bed3a', undefined)).toBe(false)
  expect(await after.check('bed3b', password)).toBe(false)
  const changed: string[] = []
  after.onChanged((probe) => changed.push(probe))
  const weighed = after.check('bed3a', Buffer.from('WRONG'))
  await after.revoke('bed3a')
  expect(await weighed).toBe(false)
  expect(await after.check('bed3a', password)).toBe(false)
  expect(after.state('bed3a')).toBe('revoked')
  expect(changed).toEqual(['bed3a'])
  // Two changes in the same millisecond are told apart.
  await after.make('bed3a')
  await after.make('bed3a')
  expect(after.since('bed3a')).toBe(2002)
})

// A few hundred hashes, each of them slow on purpose, on a machine that may be busy.
test('a flood of logins is turned away instead of piling up', async () => {
  const passwords = await openProbePasswords(memoryCredentials(), () => 1000, null)
  const right = Buffer.from(await passwords.make('bed3a'))
  expect(await passwords.check('bed3a', right)).toBe(true)
  const flood = Array.from({ length: 400 }, (_, i) =>
    passwords.check('bed3a', Buffer.from(`WRONG${i}`)),
  )
  // The probe itself, once proved, does not wait behind them.
  expect(await passwords.check('bed3a', right)).toBe(true)
  const answers = await Promise.all(flood)
  expect(answers.filter((a) => a === true)).toEqual([])
  expect(answers.filter((a) => a === 'busy').length).toBeGreaterThan(150)
}, 120_000)
