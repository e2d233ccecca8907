import { expect, test } from 'vitest'
import { brokerPlace } from '#hub/assembly/wire-access.ts'
import type { WiredTls } from '#hub/assembly/wire-tls.ts'
import type { WatchedCertificate } from '#hub/certificates/watch-certificate.ts'
import { configSchema, type Config } from '#hub/config/settings.ts'
import { readBrokerUrl } from '#hub/ingest/broker-url.ts'

const PLAIN: WiredTls = { http: null, mqtt: null, troubles: () => [], stop: () => undefined }

/** Only what it says of itself is asked for. */
const SHOWN: WiredTls = {
  ...PLAIN,
  mqtt: { facts: () => ({ keySha256: 'pinned' }) } as unknown as WatchedCertificate,
}

function placeOf(settings: Partial<Config>, tls = PLAIN): ReturnType<typeof brokerPlace> {
  const config = configSchema.parse(settings)
  const target = config.brokerUrl === null ? null : readBrokerUrl(config.brokerUrl)
  return brokerPlace(config, target, tls)
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

test.each([
  ['beside the plain port', {}, { port: 8883, encrypted: true, plainPort: 2883 }],
  ['passed on by another', { mqttTlsPort: 9883 }, { port: 9883, plainPort: 2883 }],
  ['alone', { mqttPlain: 'no' }, { port: 8883, plainPort: null }],
  ['with a plain port for the machine', { mqttPlain: 'local' }, { port: 8883, plainPort: null }],
] as const)(
  'a broker with the certificate of the hub is told as encrypted, %s',
  (_, more, told) => {
    const settings = { brokerUrl: 'mqtt://broker:1884', brokerFiles: 'files', probesPort: 2883 }
    const place = placeOf({ ...settings, ...more }, SHOWN)
    expect(place).toMatchObject({ encrypted: true, ...told })
    expect(place.keySha256()).toBe('pinned')
  },
)

test('a certificate that does not reach the broker is not told', () => {
  // Left over from when the broker was the built-in one.
  const place = placeOf({ brokerUrl: 'mqtt://broker:1883' }, SHOWN)
  expect(place).toMatchObject({ port: 1883, encrypted: false, plainPort: 1883 })
  expect(place.keySha256()).toBeNull()
  const encrypted = { brokerUrl: 'mqtts://broker.local', brokerFiles: 'files' }
  expect(placeOf(encrypted, SHOWN)).toMatchObject({ port: 8883, encrypted: true, plainPort: null })
  expect(placeOf(encrypted, SHOWN).keySha256()).toBe('pinned')
  expect(placeOf(encrypted).keySha256()).toBeNull()
})

test('what would break out of the header file is no name', () => {
  for (const probesHost of ['a"b', 'a b', 'mqtt://a', 'a\n'])
    expect(configSchema.safeParse({ probesHost }).success, probesHost).toBe(false)
})
