import { beforeAll, expect, test } from 'vitest'
import { openStack } from './stack.ts'

/** The file as Compose reads it; no engine is asked. */
let services: ReadonlyMap<string, string>
beforeAll(async () => {
  const read = await (await openStack()).compose('config')
  const [, inside = ''] = /^services:\n((?: .*\n|\n)+)/m.exec(read) ?? []
  services = new Map(
    inside.split(/^(?= {2}\w)/m).map((text) => [text.split(':')[0]!.trim(), text] as const),
  )
  expect([...services.keys()].toSorted()).toEqual(['broker', 'hub', 'influxdb', 'prepare'])
})

test('whichever service starts first with the hub’s image can build it, where it is not there yet', () => {
  const ofHub = [...services].filter(([, text]) => /^ {4}image: loamline-hub$/m.test(text))
  expect(ofHub.map(([name]) => name).toSorted()).toEqual(['hub', 'prepare'])
  for (const [name, text] of ofHub)
    expect(text, name).toMatch(/^ {4}build:\n(?: {6}.*\n)*? {6}dockerfile: hub\/Dockerfile$/m)
})
