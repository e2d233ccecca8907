import { join } from 'node:path'
import mqtt from 'mqtt'
import { pino } from 'pino'
import { expect, test } from 'vitest'
import { embeddedAddress, pagesAddress } from '#hub/assembly/own-addresses.ts'
import { loadConfig } from '#hub/config/load.ts'
import { configSchema } from '#hub/config/settings.ts'
import { openHub } from '#hub/hub.ts'
import { freePort } from '#tests/support/ports.ts'
import { tempDir } from '#tests/support/temp-dir.ts'
import { until } from '#tests/support/until.ts'

test.each([
  ['127.0.0.1', 'http://127.0.0.1:8090', 'mqtt://127.0.0.1:1883'],
  ['0.0.0.0', 'http://127.0.0.1:8090', 'mqtt://0.0.0.0:1883'],
  ['::', 'http://127.0.0.1:8090', 'mqtt://[::]:1883'],
  ['::1', 'http://[::1]:8090', 'mqtt://[::1]:1883'],
  ['fd00::7', 'http://[fd00::7]:8090', 'mqtt://[fd00::7]:1883'],
  ['beds.local', 'http://beds.local:8090', 'mqtt://beds.local:1883'],
])('listening on %s the pages are at %s, the broker at %s', (host, pages, broker) => {
  const config = configSchema.parse({ httpHost: host, mqttHost: host })
  expect(pagesAddress(config)).toBe(pages)
  expect(embeddedAddress(config)).toBe(broker)
  for (const address of [pages, broker]) expect(URL.canParse(address), address).toBe(true)
})

test('with a certificate and without a plain port the schemes say so', () => {
  const config = configSchema.parse({
    httpHost: '::1',
    httpCertificate: 'hub.pem',
    mqttHost: '::1',
    mqttPlain: 'no',
  })
  expect(pagesAddress(config)).toBe('https://[::1]:8090')
  expect(embeddedAddress(config)).toBe('mqtts://[::1]:8883')
})

// Needs a machine that has IPv6 at its loopback, as every usual one.
test.each(['::1', '::'])(
  'a hub at %s is where it says, for browsers and for probes',
  async (host) => {
    using dir = tempDir()
    const { config } = loadConfig({
      LOAMLINE_DATA_DIR: join(dir.path, 'data'),
      LOAMLINE_HTTP_HOST: host,
      LOAMLINE_HTTP_PORT: String(await freePort()),
      LOAMLINE_MQTT_HOST: host,
      LOAMLINE_MQTT_PORT: String(await freePort()),
      LOAMLINE_ZONE: 'Europe/Lisbon',
    })
    const hub = await openHub(config, { log: pino({ level: 'silent' }) })
    try {
      const health = await fetch(`${hub.url}/api/health`)
      expect(health.status).toBe(200)
      expect(await health.json()).toMatchObject({ broker: { address: hub.brokerAddress } })
      const places = new URL(hub.brokerAddress)
      for (const at of host === '::' ? ['::1', '127.0.0.1'] : ['::1']) {
        const probe = await mqtt.connectAsync({
          host: at,
          port: Number(places.port),
          clientId: 'fern1',
        })
        const n = at === '::1' ? 0 : 1
        await probe.publishAsync('lm1/fern1/up/r', `{"b":1,"n":${n},"u":3,"v":{"ph":6.4}}`, {
          qos: 1,
        })
        await probe.endAsync()
        await until('it is there', async () => (await hub.readings.counts()).readings === n + 1)
      }
    } finally {
      await hub.stop()
    }
  },
)
