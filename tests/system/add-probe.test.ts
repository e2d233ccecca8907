import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import type { MqttClient } from 'mqtt'
import type { Browser, Page } from 'playwright-core'
import { decodeQR } from 'qr/decode.js'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const PHONE = { width: 360, height: 780 }
const SHOTS = process.env['SCREENSHOTS']

let browser: Browser
let hub: HubProcess
let page: Page
let complaints: readonly string[]
const dir = tempDir()
const clients: MqttClient[] = []

beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  ;({ page, complaints } = await openPage(browser, `${hub.url}/probes`, PHONE))
  page.setDefaultTimeout(8000)
})
afterAll(async () => {
  await Promise.all(clients.map((client) => client.endAsync(true)))
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

async function connect(id: string, password: string): Promise<MqttClient> {
  const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${hub.mqttPort}`, {
    clientId: id,
    username: id,
    password,
    reconnectPeriod: 0,
    protocolVersion: 4,
  })
  clients.push(client)
  return client
}

/** What a camera would read off the code on the page, by a decoder. */
async function readQr(): Promise<string> {
  const path = await page.locator('svg.qr path').getAttribute('d')
  const size = Number((await page.locator('svg.qr').getAttribute('viewBox'))!.split(' ')[2])
  const scale = 4
  const width = size * scale
  const data = new Uint8Array(width * width * 4).fill(255)
  for (const [, x, y] of path!.matchAll(/M(\d+) (\d+)h1v1h-1z/g)) {
    for (let dy = 0; dy < scale; dy++) {
      for (let dx = 0; dx < scale; dx++) {
        const at = ((Number(y) * scale + dy) * width + Number(x) * scale + dx) * 4
        data.fill(0, at, at + 3)
      }
    }
  }
  return decodeQR({ width, height: width, data })
}

const passwordShown = (): Promise<string> => page.locator('.setup .secret').innerText()
const shot = async (name: string): Promise<void> => {
  if (SHOTS === undefined) return
  for (const width of [1280, 360]) {
    await page.setViewportSize({ width, height: 900 })
    await page.screenshot({ path: `${SHOTS}/${name}-${width}.png`, fullPage: true })
  }
  await page.setViewportSize(PHONE)
}

test('a probe is added, shown once, connects; renewing and taking away shut it out', async () => {
  await page.getByRole('textbox', { name: 'Name' }).fill('Fern bed, north')
  await page.getByRole('button', { name: 'Add the probe' }).click()
  await page.getByText('This is shown once.').waitFor()
  await shot('add-probe')
  const password = await passwordShown()
  expect(password).toMatch(/^[A-Z2-7]{26}$/)
  const header = await page.locator('.setup pre').first().innerText()
  expect(header).toContain('#define LM1_PROBE_ID "fernbednorth"')
  expect(header).toContain(`#define LM1_PROBE_PASSWORD "${password}"`)
  const line = await page.locator('.setup pre').last().innerText()
  expect(line).toBe(`lm1 id=fernbednorth pw=${password} host=127.0.0.1 port=${hub.mqttPort} tls=0`)
  expect(await readQr()).toBe(line)
  await page.getByText('LOAMLINE_MQTT_HOST=0.0.0.0').waitFor()
  const saved = await page.getByRole('link', { name: 'Save lm1_probe.h' }).getAttribute('href')
  expect(decodeURIComponent(saved!.split(',')[1]!)).toContain(password)
  const wide = await page.evaluate('document.documentElement.scrollWidth')
  expect(wide).toBeLessThanOrEqual(PHONE.width)

  const probe = await connect('fernbednorth', password)
  await probe.publishAsync('lm1/fernbednorth/up/r', '{"b":1,"n":0,"u":3,"v":{"m1":1873}}', {
    qos: 1,
  })
  await until(
    'its reading',
    async () => (await hub.get<ProbeView[]>('/api/probes'))[0]?.channels[0]?.latest === 1873,
  )
  await page.getByRole('button', { name: 'I have it' }).click()
  await page.getByRole('heading', { name: 'Password' }).waitFor()
  // Gone from the page, and not to be had again.
  expect(await page.content()).not.toContain(password)
  await page.reload()
  await page.getByRole('button', { name: 'Renew the password' }).waitFor()
  expect(await page.content()).not.toContain(password)

  const gone = new Promise<void>((resolve) => probe.once('close', () => resolve()))
  await page.getByRole('button', { name: 'Renew the password' }).click()
  await page.getByRole('button', { name: 'Yes, renew the password' }).click()
  await page.getByText('This is shown once.').waitFor()
  await gone
  const renewed = await passwordShown()
  expect(renewed).not.toBe(password)
  await expect(connect('fernbednorth', password)).rejects.toMatchObject({ code: 4 })
  await connect('fernbednorth', renewed)
  await page.getByRole('button', { name: 'I have it' }).click()
  // The page looks every ten seconds.
  await page.getByText('A wrong password was given for it').waitFor({ timeout: 20_000 })

  await page.getByRole('button', { name: 'Take the password away' }).click()
  await page.getByRole('button', { name: 'Yes, take the password away' }).click()
  await page.getByText('nothing is let in under this id').waitFor()
  await shot('password-taken')
  await expect(connect('fernbednorth', renewed)).rejects.toMatchObject({ code: 5 })
  for (const secret of [password, renewed]) expect(hub.output()).not.toContain(secret)
  expect(complaints).toEqual([])
}, 60_000)

test('a probe gone wild is told of once, on its page and in the log', async () => {
  const mad = await connect('sill1', 'x')
  const send = (n: number) =>
    mad.publishAsync('lm1/sill1/up/r', `{"b":1,"n":${n},"u":${n},"v":{"m1":1}}`, { qos: 1 })
  // Heard once it waits to be taken in, and counts by itself from then on.
  await send(0)
  await until('it waits to be taken in', () =>
    hub.get<ProbeView>('/api/probes/sill1').then(
      () => true,
      () => false,
    ),
  )
  for (let n = 1; n <= 300; n++)
    mad.publish('lm1/sill1/up/r', `{"b":1,"n":${n},"u":${n},"v":{"m1":1}}`, { qos: 0 })
  await page.goto(`${hub.url}/probes`)
  await page.locator('[data-over-limit="sill1"]').waitFor()
  await shot('over-limit')
  const probe = await hub.get<ProbeView>('/api/probes/sill1')
  // Sixty at once and one a second more; a busy machine takes some seconds over it.
  const refused = probe.access.overLimit?.refused ?? 0
  expect(refused).toBeGreaterThan(220)
  expect(refused).toBeLessThanOrEqual(241)
  const told = hub
    .output()
    .split('\n')
    .filter((line) => line.includes('sends more than it may'))
  expect(told).toHaveLength(1)
  expect(complaints).toEqual([])
}, 30_000)

test('files for a broker of one’s own are written from the start; what they need is asked for', async () => {
  using own = tempDir()
  using other = tempDir()
  const folder = join(other.path, 'broker')
  await expect(startHub('start', own.path, { LOAMLINE_BROKER_FILES: folder })).rejects.toThrow(
    /ended \(2\)[^]*HUB_CONFIG[^]*LOAMLINE_BROKER_USER and LOAMLINE_BROKER_PASSWORD/,
  )
  await using second = await startHub('start', own.path, {
    LOAMLINE_BROKER_FILES: folder,
    LOAMLINE_BROKER_USER: 'hub',
    LOAMLINE_BROKER_PASSWORD: 'heather and gorse',
    LOAMLINE_STRANGERS: 'nobody',
  })
  const users = (): string => readFileSync(join(folder, 'passwords'), 'utf8')
  expect(users()).toMatch(/^hub:\$7\$/)
  expect(readFileSync(join(folder, 'access'), 'utf8')).toContain('pattern write lm1/%u/up/#')
  await second.send('POST', '/api/probes', { id: 'bed3a' })
  expect((await second.send('POST', '/api/probes/bed3a/password')).status).toBe(201)
  expect(users()).toMatch(/^bed3a:\$7\$/m)
  expect((await second.send('DELETE', '/api/probes/bed3a/password')).status).toBe(200)
  expect(users()).not.toMatch(/bed3a/)
  await expect(
    mqtt.connectAsync(`mqtt://127.0.0.1:${second.mqttPort}`, { reconnectPeriod: 0 }),
  ).rejects.toThrow()
  expect(second.output()).not.toContain('heather')
}, 60_000)
