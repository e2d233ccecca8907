import { expect, test } from 'vitest'
import {
  letsIn,
  listensToProbes,
  maySubscribe,
  refuseConnect,
  refusePublish,
} from '#hub/ingest/access.ts'

test('who logs in stays within its own part of the tree', () => {
  expect(refuseConnect('bed3a', 'bed3a')).toBeNull()
  expect(refuseConnect('bed3b', 'bed3a')).toContain('differ')
  expect(refuseConnect('anything', null)).toBeNull()
  expect(refusePublish('lm1/bed3a/up/r', 'bed3a')).toBeNull()
  expect(refusePublish('lm1/bed3b/up/r', 'bed3a')).toContain('LM-02')
  expect(refusePublish('lm1/bed3b/up/r', null)).toBeNull()
})

test('a name that is no probe id opens nothing, nobody speaks for a probe with a password', () => {
  for (const name of ['+', '#', 'hub', 'bed/3', 'Bed3a', 'ab'])
    expect(refuseConnect(name, name)).toContain('LM-02')
  const needsPassword = (probe: string): boolean => probe === 'bed3a'
  expect(refusePublish('lm1/bed3a/up/r', null, needsPassword)).toContain('LM-33')
  expect(refusePublish('lm1/bed3a/up/r', 'bed3a', needsPassword)).toBeNull()
  expect(refusePublish('lm1/bed3b/up/r', null, needsPassword)).toBeNull()
})

test('who calls this machine by its own address on the network is at this machine', () => {
  expect(letsIn('local', '192.168.1.5', '192.168.1.5')).toBe(true)
  expect(letsIn('nobody', '192.168.1.5', '192.168.1.5')).toBe(false)
  expect(letsIn('local', undefined, undefined)).toBe(false)
})

test.each([
  ['127.0.0.1', true],
  ['::1', true],
  ['::ffff:127.0.0.1', true],
  ['192.168.1.20', false],
  ['::ffff:192.168.1.20', false],
  [undefined, false],
])('a stranger at %s is at this machine: %s', (address, local) => {
  expect(letsIn('local', address)).toBe(local)
  expect(letsIn('anyone', address)).toBe(true)
  expect(letsIn('nobody', address)).toBe(false)
  expect(letsIn('local', address, '192.168.1.5')).toBe(local)
})

test.each(['lm1/bed3a/dn/ack', 'lm1/hub/state', '$SYS/x', 'garden/x', 'lm1'])(
  'nobody writes %s but the hub',
  (topic) => {
    expect(refusePublish(topic, null)).toContain('LM-30')
    expect(refusePublish(topic, 'bed3a')).toContain('LM-30')
  },
)

test.each([
  ['lm1/bed3a/dn/#', true, true],
  ['lm1/bed3a/dn/ack', true, true],
  ['lm1/hub/state', true, true],
  ['lm1/hub/#', false, true],
  ['lm1/bed3b/dn/#', false, true],
  ['lm1/+/dn/#', false, true],
  ['lm1/#', false, true],
  ['#', false, true],
  ['$SYS/#', false, false],
])('%s: logged in %s, at home without %s', (filter, own, anonymous) => {
  expect(maySubscribe(filter, 'bed3a')).toBe(own)
  expect(maySubscribe(filter, null)).toBe(anonymous)
})

test.each([
  ['#', true],
  ['lm1/#', true],
  ['lm1/+/up/#', true],
  ['+/bed3a/#', true],
  ['lm1/bed3a/up/r', true],
  ['lm1/bed3a/dn/#', false],
  ['lm1/hub/#', false],
  ['other/#', false],
])('%s covers what probes send: %s', (filter, covers) => {
  expect(listensToProbes(filter)).toBe(covers)
})
