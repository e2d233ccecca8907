import { execFileSync } from 'node:child_process'
import { existsSync, mkdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'

/** Where screenshots go when somebody wants to look at them. */
const SHOTS = process.env['SCREENSHOTS']

let browser: Browser
let hub: HubProcess
const dir = tempDir()

beforeAll(async () => {
  if (!existsSync('/usr/bin/mosquitto_pub')) {
    throw new Error('this test needs mosquitto_pub (Debian: apt-get install mosquitto-clients)')
  }
  if (SHOTS !== undefined) mkdirSync(SHOTS, { recursive: true })
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

/** The line a page shows for the terminal, run as it stands. */
async function runLine(page: Page, nth: number): Promise<void> {
  const line = await page.locator('.first-steps .command code').nth(nth).innerText()
  expect(line).toMatch(/^mosquitto_pub /)
  execFileSync('sh', ['-c', line])
}

test('a newcomer comes from an empty hub to a live reading by what the pages say alone', async () => {
  const steps: [what: string, ms: number][] = []
  let last = performance.now()
  const { page, complaints } = await openPage(browser, hub.url, { width: 360, height: 780 })
  page.setDefaultTimeout(20_000)
  const done = async (what: string): Promise<void> => {
    const at = performance.now()
    steps.push([what, at - last])
    last = at
    if (SHOTS !== undefined) {
      const path = join(SHOTS, `walk-${steps.length}-${what.replaceAll(' ', '-')}-360.png`)
      await page.screenshot({ path, fullPage: true })
      last = performance.now()
    }
  }
  const steps1 = page.getByRole('region', { name: 'First steps' })

  await steps1.waitFor()
  await done('the empty hub')

  await steps1.getByText('Change name, time zone').click()
  await steps1.getByLabel('Name of the garden').fill('Wren Corner')
  await steps1.getByRole('button', { name: 'Save' }).click()
  await page.getByRole('heading', { level: 1, name: 'Wren Corner' }).waitFor()
  await done('the garden named')

  await steps1.getByRole('link', { name: 'Add the first bed' }).click()
  await page.getByLabel('Name', { exact: true }).fill('Long bed')
  await page.getByLabel(/^Area/).fill('2.4')
  await page.getByLabel(/depth/i).fill('30')
  await page.getByLabel('Find a crop').fill('lettuce')
  await page
    .getByRole('checkbox', { name: /lettuce/i })
    .first()
    .check()
  await page.getByRole('button', { name: 'Save bed' }).click()
  await page.getByRole('heading', { level: 1, name: 'Long bed' }).waitFor()
  await done('the first bed')

  await page.getByRole('textbox', { name: 'New spot' }).fill('north end')
  await page.getByRole('button', { name: 'Add spot' }).click()
  await page.getByRole('link', { name: 'Next: the first reading' }).click()
  await done('the first spot')

  await runLine(page, 0)
  // Without a reload: it comes while the page is looked at.
  await steps1.locator('[data-heard=sill1]').getByText(/6\.42/).waitFor()
  await done('the first message of a probe')

  await page.getByRole('button', { name: 'Take it in' }).click()
  await page.getByLabel('Spot', { exact: true }).selectOption({ label: 'Long bed: north end' })
  await page.getByRole('button', { name: 'Save place' }).click()
  await page.getByRole('link', { name: 'Long bed' }).click()
  await page.getByText('newest reading 6.42').waitFor()
  await done('the first reading in the bed')

  const total = steps.reduce((sum, [, ms]) => sum + ms, 0)
  for (const [what, ms] of [
    ...steps,
    ['from the empty hub to the first reading', total] as const,
  ]) {
    console.log(`${what.padEnd(44)} ${(ms / 1000).toFixed(1).padStart(6)} s`)
  }
  // The next one arrives by itself on the bed's page.
  execFileSync('mosquitto_pub', [
    '-p',
    String(hub.mqttPort),
    '-t',
    'lm1/sill1/up/r',
    '-m',
    '{"b":1,"n":1,"u":6,"v":{"ph":6.51,"st":17.5}}',
  ])
  await page.getByText('newest reading 6.51').waitFor()
  expect(complaints).toEqual([])
}, 90_000)
