import { mkdir } from 'node:fs/promises'
import { join } from 'node:path'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { axeFaults } from '../support/axe-faults.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'

const SHOTS = process.env['SCREENSHOTS']
let browser: Browser
let hub: HubProcess
const dir = tempDir()
beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  await hub.send('POST', '/api/probes', { id: 'wren3', name: 'Wren' })
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

test.each([
  ['wide', 1280, 900],
  ['phone', 360, 780],
] as const)(
  'the interfaces are found by keyboard and shown whole: %s',
  async (name, width, height) => {
    const { page, complaints } = await openPage(browser, `${hub.url}/interfaces`, { width, height })
    page.setDefaultTimeout(8000)
    await page.getByText('PUT /api/beds/{id}', { exact: true }).waitFor()
    const document = await hub.get<{ paths: Record<string, object> }>('/api/openapi.json')
    const all = Object.values(document.paths).flatMap((item) => Object.keys(item)).length
    expect(await page.locator('details.asking').count()).toBe(all)
    await page.getByRole('status').getByText(`${all} found.`).waitFor()

    // The whole way without a pointer.
    await page.keyboard.press('/')
    await page.keyboard.type('history quantity beds')
    await page
      .getByRole('status')
      .getByText(/^(One|\d) found\.$/)
      .waitFor()
    await page.keyboard.press('Tab')
    await page.keyboard.press('Enter')
    const entry = page.locator('details.asking[open]')
    await entry.getByText('epoch milliseconds, inside').waitFor()
    const line = await entry.locator('pre.command').first().textContent()
    expect(line).toMatch(
      /^curl -H 'Authorization: Bearer \{token\}' 'http:\/\/.*quantity=\{quantity\}/,
    )
    expect(await axeFaults(page)).toEqual([])
    const over = 'document.documentElement.scrollWidth - document.documentElement.clientWidth'
    expect(await page.evaluate(over)).toBeLessThanOrEqual(0)
    if (SHOTS !== undefined) {
      await mkdir(SHOTS, { recursive: true })
      await page.screenshot({ path: join(SHOTS, `interfaces-${name}.png`), fullPage: true })
    }

    // Every address that is linked is there.
    const addresses = await page.evaluate<string[]>(
      '[...document.querySelectorAll(".addresses a")].map((link) => link.getAttribute("href"))',
    )
    expect(addresses.length).toBeGreaterThan(8)
    for (const address of addresses.filter((one) => one !== '/api/live')) {
      expect((await fetch(hub.url + address)).status, address).toBe(200)
    }
    expect(complaints).toEqual([])
    await page.close()
  },
)
