import { execFileSync } from 'node:child_process'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { ProbeDetail } from '#hub/api/schemas/probe-account.ts'
import { runFleet, type Fleet } from '#hub/demo/fleet.ts'
import { fleetScenario } from '#hub/simulator/fleet-scenario.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const SHOTS = process.env['SCREENSHOTS']
const PHONE = { width: 360, height: 780 }

let browser: Browser
let hub: HubProcess
let fleet: Fleet
let page: Page
let complaints: readonly string[]
const dir = tempDir()

beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  fleet = runFleet({
    url: `mqtt://127.0.0.1:${hub.mqttPort}`,
    scenario: fleetScenario({
      seed: 5,
      count: 1,
      prefix: 'sim',
      now: Date.now(),
      clockError: 0,
      buffer: 96,
      faultsOf: () => [],
    }),
    clock: Date.now,
    intervalMs: 1000,
    lose: 0,
    passwords: new Map(),
  })
  ;({ page, complaints } = await openPage(browser, hub.url, PHONE))
  page.setDefaultTimeout(10_000)
})
afterAll(async () => {
  await fleet?.stop()
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

const probe = (id: string): Promise<ProbeDetail> => hub.get(`/api/probes/${id}`)
async function takeIn(id: string): Promise<void> {
  await until(`${id} is heard`, () => probe(id).catch(() => null))
  expect((await hub.send('PUT', `/api/probes/${id}`, { name: '' })).status).toBe(200)
}
const send = (leaf: string, body: object, ...more: readonly string[]): void => {
  execFileSync('mosquitto_pub', [
    ...['-p', String(hub.mqttPort), '-q', '1', '-t', `lm1/fern2/up/${leaf}`],
    ...['-m', JSON.stringify(body), ...more],
  ])
}
async function shot(name: string): Promise<void> {
  const wide = await page.evaluate('document.documentElement.scrollWidth')
  expect(wide).toBeLessThanOrEqual(PHONE.width)
  if (SHOTS === undefined) return
  await page.screenshot({ path: join(SHOTS, `probe-${name}-360.png`), fullPage: true })
  await page.setViewportSize({ width: 1280, height: 900 })
  await page.screenshot({ path: join(SHOTS, `probe-${name}-1280.png`), fullPage: true })
  await page.setViewportSize(PHONE)
}
const lost = () =>
  page.locator('section', { has: page.getByRole('heading', { name: 'What it lost' }) })
const orders = () =>
  page.locator('section', { has: page.getByRole('heading', { name: 'Settings and commands' }) })

test('a probe that lost nothing is told so; settings sent from its page are taken', async () => {
  await takeIn('sim1')
  await page.goto(`${hub.url}/probe/sim1`)
  await lost().getByText('Nothing is lost').waitFor()
  await orders().getByText('settings of its own').waitFor()
  await orders().getByLabel('Measure every').fill('59')
  await orders().getByRole('button', { name: 'Send settings' }).click()
  await orders().getByText('60').first().waitFor()
  expect((await probe('sim1')).orders.settings).toBeNull()
  await orders().getByLabel('Measure every').fill('60')
  await orders().getByLabel('Samples for one reading').fill('16')
  await orders().getByRole('button', { name: 'Send settings' }).click()
  await orders().getByText('The probe took the settings below and said so.').waitFor()
  const { orders: now, intervalS } = await probe('sim1')
  expect(now.standing?.settings).toEqual({ intervalS: 60, samples: 16, settleS: null })
  expect(intervalS).toBe(60)
  await shot('settings')
}, 60_000)

test('commands are carried out and their results shown', async () => {
  const taken = async (): Promise<number> => (await probe('sim1')).account.total.received
  const before = await taken()
  await orders().getByRole('button', { name: 'Measure now' }).click()
  // The next reading by itself would be a minute away.
  await until('a reading came', async () => (await taken()) === before + 1)
  await orders().getByRole('button', { name: 'Restart' }).click()
  await orders()
    .getByRole('row', { name: /Restart.*done/ })
    .waitFor()
  await orders()
    .getByRole('row', { name: /Measure now.*done/ })
    .waitFor()
  await until('it is there again, in another boot, with its settings kept', async () => {
    const { state, intervalS } = await probe('sim1')
    return state === 'on' && intervalS === 60
  })
  await orders().getByRole('button', { name: 'Measure now' }).click()
  await until('a second boot', async () => (await probe('sim1')).account.boots.length === 2)
  await shot('commands')
}, 60_000)

test('losses, a boot id used twice and refused settings are told in words', async () => {
  send('r', { b: 7, n: 0, u: 5, v: { m1: 100 } })
  send('r', { b: 7, n: 3, u: 35, v: { m1: 103 } })
  await takeIn('fern2')
  await page.goto(`${hub.url}/probe/fern2`)
  await lost().getByText('2 readings of the present boot were measured and did not come').waitFor()
  send('b', { b: 7, u: 60, c: ['m1'], r: [[2, 25, 102]] })
  send('r', { b: 7, n: 3, u: 35, v: { m1: 9 } })
  await lost().getByText('1 reading is lost for good').waitFor()
  await lost().getByText('1 reading came under a number that was taken').waitFor()
  expect((await probe('fern2')).account.total).toMatchObject({
    received: 3,
    late: 1,
    missing: 0,
    writtenOff: 1,
    conflicting: 1,
    placed: { arrival: 2, anchors: 1, bounded: 0 },
  })
  const answer = await hub.send('PUT', '/api/probes/fern2/settings', {
    intervalS: 90,
    samples: null,
    settleS: null,
  })
  const { id } = (await answer.json()) as { id: number }
  // What stands for it is what it finds when it connects.
  const found = execFileSync('mosquitto_sub', [
    ...['-p', String(hub.mqttPort), '-C', '1', '-W', '5', '-t', 'lm1/fern2/dn/cfg'],
  ])
  expect(JSON.parse(found.toString())).toEqual({ cv: id, iv: 90 })
  send('res', { id, ok: false, e: 'iv' })
  await orders().getByText('refused the newest settings as a whole, and named: iv').waitFor()
  await until('nothing stands for it any more', () => {
    try {
      execFileSync('mosquitto_sub', [
        ...['-p', String(hub.mqttPort), '-C', '1', '-W', '1', '-t', 'lm1/fern2/dn/cfg'],
      ])
      return false
    } catch {
      return true
    }
  })
  await shot('losses')
  // A 400 is what the form was for; anything else is a fault of the page.
  expect(complaints.filter((c) => !c.includes('400'))).toEqual([])
}, 60_000)
