import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { BedView } from '#hub/api/schemas/bed.ts'
import { openBrowser } from '../support/browser.ts'
import { cuttingProxy } from '../support/cutting-proxy.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { seededRandom } from '../support/random.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

let hub: HubProcess
let browser: Browser
let bed: BedView
const dir = tempDir()
beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  const made = await hub.send('POST', '/api/beds', {
    name: 'Long bed',
    areaM2: 4.5,
    depthM: 0.3,
    texture: 'loam',
    crops: [],
    ownBand: { low: 6, high: 6.8 },
  })
  bed = (await made.json()) as BedView
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

const note = (text: string): Promise<Response> =>
  hub.send('POST', `/api/beds/${bed.id}/journal`, { kind: 'note', at: Date.now() - 1000, text })

/** Keeps what the page hears of the hub, each event with its id, and how often it fetched the list of beds. */
const WATCH = `
  window.heard = []
  const Plain = EventSource
  window.EventSource = class extends Plain {
    constructor(url) {
      super(url)
      for (const name of ['journal', 'reset']) {
        this.addEventListener(name, (event) => heard.push(name + ' ' + event.lastEventId))
      }
    }
  }
`
const heard = (page: Page, name: string): Promise<string[]> =>
  page.evaluate(`heard.filter((one) => one.startsWith('${name} '))`)

test('a page hears everything once, however often its connection is cut', async () => {
  const random = seededRandom(5)
  await using proxy = await cuttingProxy(Number(new URL(hub.url).port))
  const page = await browser.newPage()
  await page.addInitScript(WATCH)
  await page.goto(`http://127.0.0.1:${proxy.port}/bed/${bed.id}`)
  await page.getByRole('heading', { level: 1, name: 'Long bed' }).waitFor()
  await until('the page listens', async () => (await hub.get<BedView>(`/api/beds/${bed.id}`)).id)
  await page.evaluate('window.neverReloaded = true')

  // From now on whatever is open is cut within a few events; what is fetched anew is cut as well.
  proxy.cutAfter(() => 400 + Math.floor(random() * 1500))
  proxy.setDown(true)
  proxy.setDown(false)
  const count = 40
  for (let i = 1; i <= count; i++) {
    await note(`note ${i}`)
    await new Promise((resolve) => setTimeout(resolve, 60))
  }
  await until('it was cut again and again', () => proxy.cuts() > 3, 30_000)
  proxy.cutAfter(() => null)
  const events = await until(
    'all are heard',
    async () => {
      const all = await heard(page, 'journal')
      return new Set(all).size === count ? all : null
    },
    40_000,
  )
  expect(events).toHaveLength(count)
  const numbers = events.map((one) => Number(one.slice(one.lastIndexOf('-') + 1)))
  expect(numbers).toEqual(numbers.toSorted((a, b) => a - b))
  expect(await heard(page, 'reset')).toEqual([])
  await page.getByRole('button', { name: `Show all ${count} entries of this time` }).click()
  await until(
    'the page shows them all',
    async () => (await page.locator('[data-entry]').count()) === count,
  )
  expect(await page.evaluate('window.neverReloaded')).toBe(true)
  await page.close()
}, 120_000)

test('a stream that is dead without an end is noticed within half a minute, and taken up again', async () => {
  await using proxy = await cuttingProxy(Number(new URL(hub.url).port))
  const page = await browser.newPage()
  await page.addInitScript(WATCH)
  await page.goto(`http://127.0.0.1:${proxy.port}/`)
  await page.getByRole('link', { name: 'Long bed', exact: true }).waitFor()
  const line = page.getByTestId('connection')
  expect(await line.count()).toBe(0)
  proxy.setMute(true)
  const begun = performance.now()
  await line.waitFor({ timeout: 45_000 })
  // The hub's word at most every ten seconds, 25 of silence, 2 between two looks.
  expect(performance.now() - begun).toBeLessThan(31_000)
  expect(await line.innerText()).toMatch(/^Connection lost, data as of \d\d:\d\d \(.*\), retrying/)
  await note('while the line was dead')
  proxy.setMute(false)
  await line.waitFor({ state: 'detached', timeout: 30_000 })
  await until('what was missed is told', async () => (await heard(page, 'journal')).length === 1)
  await page.close()
}, 120_000)

test('after a restart of the hub the page fetches afresh', async () => {
  const page = await browser.newPage()
  await page.addInitScript(WATCH)
  await page.goto(`${hub.url}/bed/${bed.id}`)
  await page.getByRole('heading', { level: 1, name: 'Long bed' }).waitFor()
  await page.evaluate('window.neverReloaded = true')
  const [httpPort, mqttPort] = [new URL(hub.url).port, String(hub.mqttPort)]
  await hub.end()
  await page.getByTestId('connection').waitFor()
  hub = await startHub('start', dir.path, {
    LOAMLINE_HTTP_PORT: httpPort,
    LOAMLINE_MQTT_PORT: mqttPort,
  })
  await note('written after the restart')
  await page
    .locator('[data-entry]')
    .getByText('written after the restart')
    .waitFor({ timeout: 30_000 })
  await until('it was told to', async () => (await heard(page, 'reset')).length > 0)
  await page.getByTestId('connection').waitFor({ state: 'detached' })
  expect(await page.evaluate('window.neverReloaded')).toBe(true)
  await page.close()
}, 90_000)
