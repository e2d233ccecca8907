import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { ProbeSetup } from '#hub/api/schemas/access.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { freePort } from '../support/ports.ts'
import { tempDir } from '../support/temp-dir.ts'

let browser: Browser
let hub: HubProcess
const dir = tempDir()

beforeAll(async () => {
  browser = await openBrowser()
  // Nobody is there, which the pages do not need: it is away.
  hub = await startHub('start', dir.path, {
    LOAMLINE_BROKER_URL: `mqtt://localhost:${await freePort()}`,
    LOAMLINE_PROBES_PORT: '2883',
  })
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

test('with a broker of their own, first steps lead to a probe that is told where it is from outside', async () => {
  const { page, complaints } = await openPage(browser, hub.url, { width: 360, height: 780 })
  page.setDefaultTimeout(10_000)
  const steps = page.getByRole('region', { name: 'First steps' })
  await steps.getByText('Add a probe: it gets an id').waitFor()
  expect(await steps.innerText()).not.toContain('mosquitto_pub')

  await page.goto(`${hub.url}/probes`)
  await page.getByRole('textbox', { name: 'Name' }).fill('Fern bed')
  const answered = page.waitForResponse((response) => response.url().endsWith('/password'))
  await page.getByRole('button', { name: 'Add the probe' }).click()
  const { broker, line, header } = (await (await answered).json()) as ProbeSetup
  expect(broker).toMatchObject({ host: '127.0.0.1', port: 2883, reach: 'this machine' })
  expect(line).toContain('host=127.0.0.1 port=2883 ')
  expect(header.text).toContain('#define LM1_BROKER_PORT 2883\n')
  await page.getByText('or set LOAMLINE_PROBES_HOST').waitFor()
  expect(complaints).toEqual([])
})
