import { readFileSync, readdirSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, afterEach, beforeAll, beforeEach, expect, test } from 'vitest'
import { HUB_FILE, prepareStack } from '#hub/cli/prepare.ts'
import { loadConfig } from '#hub/config/load.ts'
import { HubError } from '#hub/errors.ts'
import { openInfluxClient, type InfluxClient } from '#hub/store/influx/influx-client.ts'
import { startInfluxd, type Service } from '../support/services/services.ts'
import { tempDir } from '../support/temp-dir.ts'

let influxd: Service
let folder: ReturnType<typeof tempDir>
let hub: InfluxClient | undefined
beforeAll(async () => {
  influxd = await startInfluxd({ auth: 'nobody yet' })
})
afterAll(() => influxd[Symbol.asyncDispose]())
beforeEach(() => {
  folder = tempDir()
})
afterEach(async () => {
  await hub?.close()
  hub = undefined
  folder[Symbol.dispose]()
})

const url = (service: Service): string => `http://127.0.0.1:${service.port}`

/** As the hub comes to InfluxDB after it read its config file. */
function asHub(service: Service, database = 'beds'): InfluxClient {
  const given = JSON.parse(readFileSync(join(folder.path, HUB_FILE), 'utf8')) as {
    influxUser: string
    influxPassword: string
  }
  hub = openInfluxClient({
    url: url(service),
    database,
    retention: null,
    auth: { kind: 'basic', user: given.influxUser, password: given.influxPassword },
  })
  return hub
}

test('a first start: the hub may read and write its database, and nothing else', async () => {
  await using fresh = await startInfluxd({ auth: 'nobody yet' })
  expect(await prepareStack({ secrets: folder.path, influx: url(fresh), database: 'beds' })).toBe(
    true,
  )
  const client = asHub(fresh)
  await client.ready()
  expect(await client.write('level value=6.4 1000')).toEqual({ refused: null, partly: true })
  expect(await client.query('SELECT value FROM level')).toEqual([{ time: 1000, value: 6.4 }])
  for (const more of ['CREATE DATABASE other', 'SHOW USERS', 'DROP DATABASE beds'])
    await expect(client.query(more)).rejects.toThrow(/not authorized|requires admin/i)
})

test('its files are readable by their owner alone, and the hub takes the one that is for it', async () => {
  await using fresh = await startInfluxd({ auth: 'nobody yet' })
  await prepareStack({ secrets: folder.path, influx: url(fresh) })
  const files = readdirSync(folder.path).toSorted()
  expect(files).toEqual([HUB_FILE, 'passwords.json'])
  for (const file of files) expect(statSync(join(folder.path, file)).mode & 0o777).toBe(0o600)
  const { config } = loadConfig({ LOAMLINE_CONFIG: join(folder.path, HUB_FILE) })
  expect(config.brokerPassword).toMatch(/^[A-Z2-7]{26}$/)
  const passwords = Object.values(
    JSON.parse(readFileSync(join(folder.path, 'passwords.json'), 'utf8')) as object,
  )
  expect(new Set(passwords).size).toBe(4)
  expect(passwords).toContain(config.brokerReaderPassword)
})

test('again, it changes no password; an InfluxDB that lost everything gets its users anew', async () => {
  await prepareStack({ secrets: folder.path, influx: url(influxd), database: 'beds' })
  const before = readFileSync(join(folder.path, HUB_FILE), 'utf8')
  expect(await prepareStack({ secrets: folder.path, influx: url(influxd), database: 'beds' })).toBe(
    true,
  )
  expect(readFileSync(join(folder.path, HUB_FILE), 'utf8')).toBe(before)

  await using fresh = await startInfluxd({ auth: 'nobody yet' })
  await prepareStack({ secrets: folder.path, influx: url(fresh), database: 'beds' })
  expect(readFileSync(join(folder.path, HUB_FILE), 'utf8')).toBe(before)
  await asHub(fresh).ready()
})

test('passwords of an older version stay, and what it did not make is added once', async () => {
  await using fresh = await startInfluxd({ auth: 'nobody yet' })
  await prepareStack({ secrets: folder.path, influx: url(fresh), database: 'beds' })
  const path = join(folder.path, 'passwords.json')
  const { reader: _, ...older } = JSON.parse(readFileSync(path, 'utf8')) as Record<string, string>
  writeFileSync(path, JSON.stringify(older))
  await prepareStack({ secrets: folder.path, influx: url(fresh), database: 'beds' })
  const made = JSON.parse(readFileSync(path, 'utf8')) as Record<string, string>
  expect(made).toEqual({ ...older, reader: expect.stringMatching(/^[A-Z2-7]{26}$/) })
  await prepareStack({ secrets: folder.path, influx: url(fresh), database: 'beds' })
  expect(JSON.parse(readFileSync(path, 'utf8'))).toEqual(made)
})

test('an InfluxDB that is away holds up a first start, and no later one', async () => {
  await using fresh = await startInfluxd({ auth: 'nobody yet' })
  await fresh.stop()
  const options = { secrets: folder.path, influx: url(fresh), withinS: 0 }
  await expect(prepareStack(options)).rejects.toThrow(/cannot be reached/)
  // The passwords of the try that failed are those of the one that works.
  const made = readFileSync(join(folder.path, 'passwords.json'), 'utf8')
  await fresh.start()
  expect(await prepareStack(options)).toBe(true)
  expect(readFileSync(join(folder.path, 'passwords.json'), 'utf8')).toBe(made)
  await fresh.kill()
  expect(await prepareStack(options)).toBe(false)
}, 30_000)

test('a folder that holds something else is an error that shows none of it', async () => {
  using other = tempDir()
  writeFileSync(join(other.path, 'passwords.json'), '{"broker":"MARKED-SECRET"}')
  const failed = prepareStack({ secrets: other.path, influx: url(influxd) })
  await expect(failed).rejects.toThrow(HubError)
  await expect(failed).rejects.toThrow(/expected the passwords that were made at the first start/)
  await expect(failed).rejects.not.toThrow(/MARKED-SECRET/)
})
