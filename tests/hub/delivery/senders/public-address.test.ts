import { expect, test } from 'vitest'
import {
  isPublicAddress,
  PrivateTarget,
  publicLookup,
  refusePrivateLiteral,
} from '#hub/delivery/senders/public-address.ts'

// Blocks of the special-purpose registries (IANA, RFC 6890), addresses from memory.
test.each([
  '127.0.0.1',
  '127.8.8.8',
  '10.0.0.1',
  '172.16.0.1',
  '172.31.255.255',
  '192.168.1.10',
  '169.254.169.254',
  '100.64.0.1',
  '0.0.0.0',
  '224.0.0.1',
  '255.255.255.255',
  '::',
  '::1',
  '::ffff:127.0.0.1',
  '::ffff:8.8.8.8',
  '::7f00:1',
  '64:ff9b::7f00:1',
  'fc00::1',
  'fd12:3456::1',
  'fe80::1',
  'fe80::1%eth0',
  'ff02::1',
  '2002:7f00:1::',
  '2001:0:1234::1',
  '2001:db8::1',
  'localhost',
  '',
])('%s is not public', (address) => {
  expect(isPublicAddress(address)).toBe(false)
})
test.each([
  '8.8.8.8',
  '172.32.0.1',
  '100.128.0.1',
  '198.20.0.1',
  '2606:4700::1111',
  '2a00:1450::1',
])('%s is public', (address) => {
  expect(isPublicAddress(address)).toBe(true)
})

test('an address written in any way is checked as what it is', () => {
  for (const url of ['http://2130706433/', 'http://0x7f.1/', 'http://127.1/', 'http://[::1]/']) {
    expect(() => refusePrivateLiteral(new URL(url).hostname)).toThrow(PrivateTarget)
  }
  expect(() => refusePrivateLiteral('hooks.example')).not.toThrow()
})

test('a name with one private address among public ones is refused; what was checked is what is connected to', () => {
  const answers = [
    [
      { address: '8.8.8.8', family: 4 },
      { address: '10.0.0.5', family: 4 },
    ],
    [{ address: '8.8.8.8', family: 4 }],
    [{ address: '127.0.0.1', family: 4 }],
  ]
  const lookup = publicLookup((_host, done) => done(null, answers.shift() ?? []))
  const ask = (all: boolean) => {
    let got: { error: Error | null; found: unknown } = { error: null, found: null }
    lookup('hooks.example', { all }, (error, found) => {
      got = { error, found }
    })
    return got
  }
  expect(ask(true).error).toBeInstanceOf(PrivateTarget)
  expect(ask(false)).toEqual({ error: null, found: '8.8.8.8' })
  // The same name, answered otherwise a moment later.
  expect(ask(false).error?.message).toBe(
    'hooks.example leads to 127.0.0.1, an address of a private network or of this machine',
  )
  expect(ask(false).error?.message).toBe('hooks.example has no address')
})
