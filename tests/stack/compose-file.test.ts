import { execFile } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { promisify } from 'node:util'
import { afterEach, expect, test, vi } from 'vitest'
import { openStack } from './stack.ts'

/** Services of the file as Compose reads it with such an `.env`; no engine is asked. */
async function servicesOf(
  env: Readonly<Record<string, string>>,
): Promise<ReadonlyMap<string, string>> {
  for (const [name, value] of Object.entries(env)) vi.stubEnv(name, value)
  const read = await (await openStack()).compose('config')
  const [, inside = ''] = /^services:\n((?: .*\n|\n)+)/m.exec(read) ?? []
  const services = new Map(
    inside.split(/^(?= {2}\w)/m).map((text) => [text.split(':')[0]!.trim(), text] as const),
  )
  expect([...services.keys()].toSorted()).toEqual(['broker', 'hub', 'influxdb', 'prepare'])
  return services
}
afterEach(() => void vi.unstubAllEnvs())

test('whichever service starts first with the hub’s image can build it, where it is not there yet', async () => {
  const ofHub = [...(await servicesOf({ HUB_IMAGE: '' }))].filter(([, text]) =>
    /^ {4}image: loamline-hub$/m.test(text),
  )
  expect(ofHub.map(([name]) => name).toSorted()).toEqual(['hub', 'prepare'])
  for (const [name, text] of ofHub)
    expect(text, name).toMatch(/^ {4}build:\n(?: {6}.*\n)*? {6}dockerfile: hub\/Dockerfile$/m)
})

test('the hub gets a certificate from a folder of this machine, and none without one', async () => {
  const without = (await servicesOf({ CERTIFICATES: '' })).get('hub')
  expect(without).toMatch(/^ {6}LOAMLINE_HTTP_CERTIFICATE: ''$|LOAMLINE_HTTP_CERTIFICATE: ""$/m)
  const hub = (
    await servicesOf({
      CERTIFICATES: '/srv/certificates',
      LOAMLINE_HTTP_CERTIFICATE: '/certificates/hub.pem',
      LOAMLINE_HTTP_KEY: '/certificates/hub.key',
    })
  ).get('hub')
  expect(hub).toMatch(/^ {6}LOAMLINE_HTTP_CERTIFICATE: \/certificates\/hub\.pem$/m)
  expect(hub).toMatch(/^ {6}LOAMLINE_HTTP_KEY: \/certificates\/hub\.key$/m)
  expect(hub).toMatch(
    /\/srv\/certificates(:\/certificates:ro$|\n +target: \/certificates\n +read_only)/m,
  )
})

test('one certificate for the broker goes to the hub, which lays it for the broker', async () => {
  const without = await servicesOf({ LOAMLINE_MQTT_CERTIFICATE: '', LOAMLINE_MQTT_PLAIN: '' })
  expect(without.get('broker')).toMatch(/^ {6}CERTIFICATE: (''|"")$/m)
  for (const name of ['PLAIN', 'LOAMLINE_MQTT_PLAIN']) {
    const service = without.get(name === 'PLAIN' ? 'broker' : 'hub')
    expect(service).toMatch(new RegExp(`^ {6}${name}: ["']?yes["']?$`, 'm'))
  }
  const services = await servicesOf({
    CERTIFICATES: '/srv/certificates',
    LOAMLINE_MQTT_CERTIFICATE: '/certificates/hub.pem',
    LOAMLINE_MQTT_KEY: '/certificates/hub.key',
    LOAMLINE_MQTT_PLAIN: 'no',
  })
  const hub = services.get('hub')
  expect(hub).toMatch(/^ {6}LOAMLINE_MQTT_CERTIFICATE: \/certificates\/hub\.pem$/m)
  expect(hub).toMatch(/^ {6}LOAMLINE_MQTT_KEY: \/certificates\/hub\.key$/m)
  expect(services.get('broker')).not.toContain('/srv/certificates')
})

test.each([
  [{ PLAIN: 'no', CERTIFICATE: '' }, 'expected LOAMLINE_MQTT_CERTIFICATE beside it, .* got no'],
  [{ PLAIN: 'local', CERTIFICATE: '/certificates/hub.pem' }, 'expected yes or no, got local'],
])('a broker that nobody could reach does not start: %j', async (env, message) => {
  const file = readFileSync('docker-compose.yml', 'utf8')
  const command = /^ {2}broker:\n[\s\S]*?\n {4}command:\n {6}- \|\n((?: {8}.*\n)+)/m.exec(file)?.[1]
  expect(command).toBeDefined()
  const script = command!.replaceAll(/^ {8}/gm, '').replaceAll('$$', '$')
  await expect(
    promisify(execFile)('sh', ['-c', script], { env: { ...process.env, ...env } }),
  ).rejects.toMatchObject({
    code: 1,
    stderr: expect.stringMatching(new RegExp(`^LOAMLINE_MQTT_PLAIN: ${message}`)),
  })
})
