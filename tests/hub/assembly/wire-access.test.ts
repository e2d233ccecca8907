import { expect, test } from 'vitest'
import { brokerPlace } from '#hub/assembly/wire-access.ts'
import type { WiredTls } from '#hub/assembly/wire-tls.ts'
import { configSchema, type Config } from '#hub/config/settings.ts'
import { readBrokerUrl } from '#hub/ingest/broker-url.ts'

const PLAIN: WiredTls = { http: null, mqtt: null, troubles: () => [], stop: () => undefined }

function placeOf(settings: Partial<Config>): ReturnType<typeof brokerPlace> {
  const config = configSchema.parse(settings)
  const target = config.brokerUrl === null ? null : readBrokerUrl(config.brokerUrl)
  return brokerPlace(config, target, PLAIN)
}

test.each([
  ['the built-in broker, at one address', {}, '127.0.0.1', false],
  ['the built-in broker, at all', { mqttHost: '0.0.0.0' }, null, true],
  ['a name of the network', { brokerUrl: 'mqtt://broker.home.arpa' }, 'broker.home.arpa', false],
  ['an address', { brokerUrl: 'mqtt://192.168.1.7:1883' }, '192.168.1.7', false],
  ['an address of version 6', { brokerUrl: 'mqtt://[fd00::7]:1883' }, 'fd00::7', false],
  ['the bare name of a container', { brokerUrl: 'mqtt://broker:1883' }, null, false],
  ['a container that listens everywhere', containerSettings(), null, false],
  ['a name that was set', { ...containerSettings(), probesHost: 'beds.lan' }, 'beds.lan', false],
] as const)('%s: probes are told a name they can use', (_, settings, host, everyAddress) => {
  expect(placeOf(settings)).toMatchObject({ host, everyAddress })
})
function containerSettings(): Partial<Config> {
  return { brokerUrl: 'mqtt://broker:1883', mqttHost: '0.0.0.0' }
}

test('the port that is passed on to the broker is the one probes are told', () => {
  expect(placeOf({ brokerUrl: 'mqtt://broker:1883' })).toMatchObject({
    port: 1883,
    plainPort: 1883,
  })
  expect(placeOf({ brokerUrl: 'mqtt://broker:1883', probesPort: 2883 })).toMatchObject({
    port: 2883,
    plainPort: 2883,
  })
  expect(placeOf({ brokerUrl: 'mqtts://broker:8883', probesPort: 2883 })).toMatchObject({
    port: 2883,
    plainPort: null,
  })
})

test('what would break out of the header file is no name', () => {
  for (const probesHost of ['a"b', 'a b', 'mqtt://a', 'a\n'])
    expect(configSchema.safeParse({ probesHost }).success, probesHost).toBe(false)
})
