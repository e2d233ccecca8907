import { expect, test } from 'vitest'
import { callableHost, networkOf, urlHost } from '#hub/model/address.ts'

test('in an address IPv6 stands in brackets, and can be read out of it again', () => {
  for (const host of ['::1', 'fd00::7', '2001:db8:1:2:3:4:5:6', '192.168.7.3', 'beds.home.arpa']) {
    const url = new URL(`mqtt://${urlHost(host)}:1883`)
    expect(url.hostname.replace(/^\[(.*)\]$/, '$1'), host).toBe(host)
    expect(url.port, host).toBe('1883')
  }
})

test('what listens everywhere is called at this machine; what listens at one address, there', () => {
  for (const host of ['0.0.0.0', '::']) expect(callableHost(host)).toBe('127.0.0.1')
  for (const host of ['::1', '192.168.7.3', '10.0.0.0', 'beds.local'])
    expect(callableHost(host)).toBe(host)
})

test('addresses of one customer count as one: IPv4 by itself, IPv6 by its first 64 bits', () => {
  expect(networkOf('192.168.7.3')).toBe('192.168.7.3')
  expect(networkOf('::ffff:192.168.7.3')).toBe('192.168.7.3')
  expect(networkOf('2001:db8:1:2:3:4:5:6')).toBe(networkOf('2001:db8:1:2::9'))
  expect(networkOf('2001:0db8:0001:0002::9')).toBe('2001:db8:1:2')
  expect(networkOf('2001:db8::9')).not.toBe(networkOf('2001:db8:1:2::9'))
  expect(networkOf('fe80::1%eth0')).toBe('fe80:0:0:0')
  expect(networkOf('')).toBe('')
})
