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
