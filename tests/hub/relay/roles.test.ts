import { expect, test } from 'vitest'
import { loadConfig } from '#hub/config/load.ts'
import { HubError } from '#hub/errors.ts'
import { servedTopics, sharedTopics } from '#hub/relay/shared-topics.ts'
import { checkRole } from '#hub/assembly/wire-relay.ts'

const BROKER = { LOAMLINE_BROKER_URL: 'mqtt://broker.local' }
const INFLUX = { LOAMLINE_INFLUX_URL: 'http://influx.local:8086' }

function complaint(env: Record<string, string>): string | null {
  try {
    checkRole(loadConfig(env).config)
    return null
  } catch (error) {
    expect(error).toBeInstanceOf(HubError)
    expect(error).toMatchObject({ code: 'HUB_CONFIG', retry: false })
    return (error as HubError).message
  }
}

test('one process needs nothing besides', () => {
  expect(complaint({})).toBeNull()
  expect(complaint(BROKER)).toBeNull()
})

test.each(['ingest', 'serve'])('role %s says what it cannot do without', (role) => {
  const asked = { LOAMLINE_ROLE: role }
  expect(complaint({ ...asked, ...INFLUX })).toMatch(/expected LOAMLINE_BROKER_URL beside it/)
  expect(complaint({ ...asked, ...BROKER })).toMatch(/expected LOAMLINE_INFLUX_URL beside it/)
})

test('an ingest process needs a client id of its own, and none that a probe can have', () => {
  const ingest = { LOAMLINE_ROLE: 'ingest', ...BROKER, ...INFLUX }
  const named = (id: string): Record<string, string> => ({
    ...ingest,
    LOAMLINE_BROKER_CLIENT_ID: id,
  })
  expect(complaint(ingest)).toMatch(/such as ingest-1, .* got loamline-hub$/)
  expect(complaint(named('fern1'))).toMatch(/that no probe can have.* got fern1$/)
  expect(complaint(named('ingest-1'))).toBeNull()
  expect(complaint({ LOAMLINE_ROLE: 'serve', ...BROKER, ...INFLUX })).toBeNull()
})

test('every leaf below up/ goes to the one or to the other', () => {
  expect(sharedTopics('garden', null)).toEqual([
    '$share/garden/lm1/+/up/r',
    '$share/garden/lm1/+/up/b',
  ])
  expect(servedTopics).toEqual([
    'lm1/+/up/state',
    'lm1/+/up/birth',
    'lm1/+/up/res',
    'lm1/+/up/s',
    'lm1/+/up/ch/+',
    'lm1/+/up/v/+',
  ])
})

test('with a password at the broker the group is one that nobody can guess, the same for all who have it', () => {
  const [topic] = sharedTopics('garden', 'secret-1')
  expect(topic).toMatch(/^\$share\/garden-[0-9a-f]{24}\/lm1\/\+\/up\/r$/)
  expect(topic).not.toContain('secret')
  expect(sharedTopics('garden', 'secret-1')[0]).toBe(topic)
  expect(sharedTopics('garden', 'secret-2')[0]).not.toBe(topic)
  expect(sharedTopics('other', 'secret-1')[0]).not.toBe(topic)
})
