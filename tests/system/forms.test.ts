import { execFileSync } from 'node:child_process'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { Entry } from '#hub/api/schemas/journal.ts'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const PHONE = { width: 360, height: 780 }

let browser: Browser
let hub: HubProcess
let page: Page
let complaints: readonly string[]
const dir = tempDir()

beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  ;({ page, complaints } = await openPage(browser, hub.url, PHONE))
  page.setDefaultTimeout(8000)
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

/** Presses Tab until the wanted element has the focus; a page that traps or skips it fails. */
async function tabTo(name: string | RegExp, role: 'button' | 'link' | 'textbox'): Promise<void> {
  const wanted = page.getByRole(role, { name }).first()
  await wanted.waitFor()
  const focused = page.locator(':focus').and(wanted)
  for (let presses = 0; presses < 60; presses++) {
    if ((await focused.count()) > 0) return
    await page.keyboard.press('Tab')
  }
  throw new Error(`'${String(name)}' cannot be reached with the keyboard`)
}

const publish = (values: Readonly<Record<string, number>>, n: number): void => {
  const payload = JSON.stringify({ b: 1, n, u: 5 + n, v: values })
  execFileSync('mosquitto_pub', [
    '-p',
    String(hub.mqttPort),
    '-q',
    '1',
    '-t',
    'lm1/fern1/up/r',
    '-m',
    payload,
  ])
}

describe('a gardener with a phone-sized page sets up a garden', () => {
  test('the first bed, by keyboard alone', async () => {
    await tabTo('Add the first bed', 'link')
    await page.keyboard.press('Enter')
    await tabTo('Name', 'textbox')
    await page.keyboard.type('Fern bed')
    await tabTo(/Area/, 'textbox')
    await page.keyboard.type('2.4')
    await tabTo(/depth/i, 'textbox')
    await page.keyboard.type('30')
    await tabTo('Find a crop', 'textbox')
    await page.keyboard.type('lettuce')
    await page.keyboard.press('Tab')
    await page.keyboard.press('Space')
    await page.keyboard.press('Enter')
    const bed = await until(
      'the bed is stored',
      async () => (await hub.get<BedView[]>('/api/beds'))[0],
    )
    expect(bed).toMatchObject({ name: 'Fern bed', areaM2: 2.4, depthM: 0.3 })
    expect(bed.crops.map((c) => c.slug)).toEqual(['lettuce'])
  }, 30_000)

  test('a spot, a stranger taken in, placed with what it sent before', async () => {
    publish({ phmv: 10.2, m1: 2000, st: 18.2 }, 0)
    const [bed] = await hub.get<BedView[]>('/api/beds')
    await page.goto(`${hub.url}/bed/${bed!.id}`)
    await page.getByRole('textbox', { name: 'New spot' }).fill('north end')
    await page.getByRole('button', { name: 'Add spot' }).click()
    await until('the spot', async () => (await hub.get<BedView[]>('/api/beds'))[0]!.spots[0])
    await page.goto(`${hub.url}/probes`)
    await page.getByRole('button', { name: 'Take it in' }).first().click()
    await until(
      'taken in',
      async () => (await hub.get<ProbeView[]>('/api/probes'))[0]?.adoptedAt ?? undefined,
    )
    await page.goto(`${hub.url}/probe/fern1`)
    await page.getByLabel('Spot', { exact: true }).selectOption({ label: 'Fern bed: north end' })
    await page.getByRole('button', { name: 'Save place' }).click()
    const placed = await until('placed', async () => {
      const probe = await hub.get<ProbeView>('/api/probes/fern1')
      return probe.spot === 'north end' ? probe : undefined
    })
    // Never placed before: it sits there since its first reading.
    expect(placed.placements[0]!.from).toBeLessThanOrEqual(placed.firstSeenAt)
  }, 40_000)

  test('a calibration: judged before it is stored, refused when it cannot be right', async () => {
    await page.getByRole('button', { name: 'Enter a calibration' }).click()
    const ph = page.getByLabel('pH at that temperature')
    const emf = page.getByLabel('EMF in it')
    await ph.nth(0).fill('7')
    await emf.nth(0).fill('-15')
    await ph.nth(1).fill('4')
    await emf.nth(1).fill('60')
    const verdict = page.getByTestId('dry-run')
    await until('the hub refuses a flat electrode', async () =>
      /42|slope/i.test(await verdict.innerText()),
    )
    await page.getByRole('button', { name: 'Save calibration' }).click()
    await page.getByText(/slope/i).first().waitFor()
    expect((await hub.get<ProbeView>('/api/probes/fern1')).calibrations).toEqual([])
    await emf.nth(1).fill('160')
    await until('98.6 %', async () => (await verdict.innerText()).includes('98.6'))
    await page.getByRole('button', { name: 'Save calibration' }).click()
    const probe = await until('stored', async () => {
      const seen = await hub.get<ProbeView>('/api/probes/fern1')
      return seen.calibrations.length === 1 ? seen : undefined
    })
    expect(probe.calibrations[0]!.check.verdict).toBe('good')
    await page.getByRole('button', { name: /^Change the calibration/ }).click()
    await emf.nth(0).fill('-12')
    await page.getByRole('button', { name: 'Save calibration' }).click()
    await until('corrected', async () => {
      const seen = await hub.get<ProbeView>('/api/probes/fern1')
      return seen.calibrations.length === 1 && seen.calibrations[0]!.points[0]!.emfMv === -12
    })
  }, 40_000)

  test('the journal: a treatment with its cautions, changed, removed', async () => {
    const [bed] = await hub.get<BedView[]>('/api/beds')
    const journal = (): Promise<Entry[]> => hub.get<Entry[]>(`/api/beds/${bed!.id}/journal`)
    await page.goto(`${hub.url}/bed/${bed!.id}`)
    await page.getByRole('button', { name: 'Write an entry' }).click()
    await page
      .getByText(/gloves/i)
      .first()
      .waitFor()
    await page
      .getByText(/extension service/i)
      .first()
      .waitFor()
    await page.getByLabel('What was put on').fill('ground limestone')
    await page.getByLabel('On the whole bed').fill('350')
    await page.getByRole('button', { name: 'Save entry' }).click()
    const entry = await until('written', async () => (await journal())[0])
    expect(entry).toMatchObject({ kind: 'treatment', material: 'ground limestone', amountG: 350 })
    await page.getByText('ground limestone, 350 g').waitFor()
    await page
      .getByRole('button', { name: /^Change/ })
      .first()
      .click()
    await page.getByLabel('On the whole bed').fill('300')
    await page.getByRole('button', { name: 'Save entry' }).click()
    await until('changed', async () => (await journal())[0]?.amountG === 300)
    await page
      .getByRole('button', { name: /^Remove/ })
      .first()
      .click()
    await page
      .getByRole('button', { name: /^(Yes|Remove)/ })
      .first()
      .click()
    await until('removed', async () => (await journal()).length === 0)
  }, 40_000)

  test('a wrong value is said beside its field and nothing is lost', async () => {
    await page.getByRole('button', { name: 'Change the bed' }).click()
    await page.getByLabel(/^Area/).fill('-3')
    await page.getByRole('button', { name: 'Save bed' }).click()
    await page
      .getByText(/more than 0/)
      .first()
      .waitFor()
    expect(await page.getByLabel('Name', { exact: true }).inputValue()).toBe('Fern bed')
    await page.getByLabel(/^Area/).fill('3')
    await page.getByRole('button', { name: 'Save bed' }).click()
    await until('saved', async () => (await hub.get<BedView[]>('/api/beds'))[0]!.areaM2 === 3)
  }, 30_000)

  test('lost connection: the page says so, keeps what it has, and is live again by itself', async () => {
    const port = new URL(hub.url).port
    const mqtt = String(hub.mqttPort)
    await page.goto(hub.url)
    await page.locator('[data-bed]').first().waitFor()
    await hub.end('SIGKILL')
    await page.getByTestId('connection').getByText(/lost/i).waitFor()
    expect(await page.locator('[data-bed]').count()).toBe(1)
    hub = await startHub('start', dir.path, { LOAMLINE_HTTP_PORT: port, LOAMLINE_MQTT_PORT: mqtt })
    await until(
      'live again',
      async () => (await page.getByTestId('connection').getByText(/lost/i).count()) === 0,
      20_000,
    )
  }, 60_000)

  test('no script of a probe runs: its words are shown as text', async () => {
    const birth = {
      p: 1,
      fw: '<img src=x onerror=1>',
      hw: '</script>',
      b: 1,
      u: 4,
      iv: 60,
      ch: 'ph',
    }
    execFileSync('mosquitto_pub', [
      '-p',
      String(hub.mqttPort),
      '-q',
      '1',
      '-r',
      '-t',
      'lm1/fern1/up/birth',
      '-m',
      JSON.stringify(birth),
    ])
    await page.goto(`${hub.url}/probe/fern1`)
    await page.getByText('<img src=x onerror=1>').waitFor()
    expect(await page.locator('img[src="x"]').count()).toBe(0)
  }, 20_000)

  test('nothing of all this made the console complain', () => {
    // Refused forms and a hub that was stopped on purpose are the browser's own network lines.
    const others = complaints.filter(
      (c) => !/Failed to load resource|ERR_CONNECTION|request failed/.test(c),
    )
    expect(others).toEqual([])
  })
})
