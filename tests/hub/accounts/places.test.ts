import { expect, test } from 'vitest'
import { deviceOf } from '#hub/accounts/device.ts'
import {
  answersTo,
  hostName,
  isLoopback,
  lastForwarded,
  namesIn,
  ownNames,
  passedOnFrom,
} from '#hub/accounts/places.ts'
import { makeCode, makeSecret, plainCode } from '#hub/accounts/secret.ts'

test('loopback is this machine and nothing that looks like it', () => {
  for (const address of [
    '127.0.0.1',
    '127.8.9.1',
    '::1',
    '[::1]',
    '::ffff:127.0.0.1',
    'localhost',
  ]) {
    expect(isLoopback(address), address).toBe(true)
  }
  for (const address of [
    '0.0.0.0',
    '::',
    '192.168.7.3',
    '127.0.0.1.example',
    '127.evil',
    '',
    '::ffff:10.0.0.1',
  ]) {
    expect(isLoopback(address), address).toBe(false)
  }
})

test('of those a request was passed on for, the last counts: a proxy writes it, the others anybody', () => {
  expect(passedOnFrom('203.0.113.5')).toBe('203.0.113.5')
  expect(passedOnFrom('127.0.0.1, 198.51.100.7 ,  203.0.113.5 ')).toBe('203.0.113.5')
  expect(passedOnFrom(['198.51.100.7', '198.51.100.8, 2001:db8::9'])).toBe('2001:db8::9')
  for (const header of [undefined, '', 'unknown', '203.0.113.5, somebody', '203.0.113.5,', []]) {
    expect(passedOnFrom(header), String(header)).toBeNull()
  }
})

test('the hub answers to addresses, to localhost and to the names it was told', () => {
  const names = namesIn(' Beds.example,  hub.lan ')
  expect(names).toEqual(['beds.example', 'hub.lan'])
  for (const host of [
    'beds.EXAMPLE',
    'hub.lan:8090',
    'localhost',
    '10.0.0.7:8090',
    '[2001:db8::7]:80',
  ]) {
    expect(answersTo(host, names), host).toBe(true)
  }
  for (const host of [
    '',
    'rebound.example',
    'hub.lan.rebound.example',
    'hub.lan:80:80',
    'a b',
    'localhost.',
  ]) {
    expect(answersTo(host, names), host).toBe(false)
  }
  expect(hostName('[::1]:8090')).toBe('::1')
})

test('secrets are 256 bits in 43 characters, codes are typed as people type them', () => {
  const secrets = new Set(Array.from({ length: 200 }, makeSecret))
  expect(secrets.size).toBe(200)
  for (const secret of secrets) expect(secret).toMatch(/^[\w-]{43}$/)
  const code = makeCode()
  expect(code).toMatch(/^[A-Z2-7]{4}-[A-Z2-7]{4}-[A-Z2-7]{4}$/)
  expect(plainCode(code.toLowerCase().replaceAll('-', ' '))).toBe(plainCode(code))
})

test('a browser is named by what it says of itself, which is trusted with nothing', () => {
  expect(deviceOf('Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0')).toBe(
    'Firefox, Linux',
  )
  expect(
    deviceOf(
      'Mozilla/5.0 (Linux; Android 15) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Mobile Safari/537.36',
    ),
  ).toBe('Chrome, Android')
  expect(
    deviceOf(
      'Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605.1.15 Version/18.0 Mobile/15E148 Safari/604.1',
    ),
  ).toBe('Safari, iPhone')
  expect(deviceOf(undefined)).toBe('')
  expect(deviceOf(`a\u0000b\u001b[31m${'x'.repeat(500)}`)).toBe(`ab[31m${'x'.repeat(54)}`)
})

test('of a Forwarded header the last element counts, as RFC 7239 writes it', () => {
  const cases: [string | undefined, string | null, string | null][] = [
    // Examples of RFC 7239, 4 and 6.
    ['for="_gazonk"', null, null],
    ['For="[2001:db8:cafe::17]:4711"', '2001:db8:cafe::17', null],
    ['for=192.0.2.60;proto=http;by=203.0.113.43', '192.0.2.60', 'http'],
    ['for=192.0.2.43, for=198.51.100.17', '198.51.100.17', null],
    ['for=192.0.2.43, for="[2001:db8:cafe::17]", for=unknown', null, null],
    // Quotes may hold what divides elements otherwise.
    ['for="192.0.2.43, for=198.51.100.17"', null, null],
    ['for=10.0.0.1;host="a\\", for=192.0.2.9"', '10.0.0.1', null],
    ['proto=HTTPS;for="192.0.2.43:47011"', '192.0.2.43', 'https'],
    // What cannot be read says nothing.
    ['for=192.0.2.43 for=198.51.100.17', null, null],
    ['for=192.0.2.43,', null, null],
    ['for="192.0.2.43', null, null],
    ['192.0.2.43', null, null],
    ['', null, null],
    [undefined, null, null],
  ]
  for (const [header, address, proto] of cases)
    expect(lastForwarded(header), String(header)).toEqual({ address, proto })
  expect(lastForwarded(['for=192.0.2.1', 'for=192.0.2.2']).address).toBe('192.0.2.2')
  // No header makes the reading of it long.
  const started = performance.now()
  for (const text of ['for="' + '\\"'.repeat(8000), 'a=b;'.repeat(4000), ' '.repeat(16_000)])
    lastForwarded(text)
  expect(performance.now() - started).toBeLessThan(2000)
})

test('a process goes by the name it listens on and by those it is told', () => {
  expect(ownNames({ httpHost: 'Beds.lan', httpNames: 'beds.example' })).toEqual([
    'beds.lan',
    'beds.example',
  ])
  expect(ownNames({ httpHost: '0.0.0.0', httpNames: null })).toEqual(['0.0.0.0'])
})
