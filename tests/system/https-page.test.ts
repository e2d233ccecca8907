import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { pino } from 'pino'
import { expect, test } from 'vitest'
import { certificateFacts } from '#hub/certificates/certificate-facts.ts'
import { loadConfig } from '#hub/config/load.ts'
import { openHub } from '#hub/hub.ts'
import { axeFaults } from '../support/axe-faults.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { makeAsReadme } from '../support/certificates.ts'
import { freePort } from '../support/ports.ts'
import { tempDir } from '../support/temp-dir.ts'

const WIDE = { width: 1280, height: 900 }
const PHONE = { width: 360, height: 780 }
const PASSWORD = 'worms like rain'
const SHOTS = process.env['SCREENSHOTS']

test('over HTTPS a browser makes the owner, keeps the session to HTTPS, and shows how a probe comes in', async () => {
  using dir = tempDir()
  makeAsReadme(dir.path)
  const pair = { cert: join(dir.path, 'hub.pem'), key: join(dir.path, 'hub.key') }
  const { keySha256 } = certificateFacts(readFileSync(pair.cert, 'utf8'))
  const [httpPort, mqttPort, tlsPort] = [await freePort(), await freePort(), await freePort()]
  const { config } = loadConfig({
    LOAMLINE_DATA_DIR: join(dir.path, 'data'),
    // Beyond its own machine: without HTTPS the owner is told that others can read along.
    LOAMLINE_HTTP_HOST: '0.0.0.0',
    LOAMLINE_HTTP_PORT: String(httpPort),
    LOAMLINE_HTTP_CERTIFICATE: pair.cert,
    LOAMLINE_HTTP_KEY: pair.key,
    LOAMLINE_MQTT_PORT: String(mqttPort),
    LOAMLINE_MQTT_TLS_PORT: String(tlsPort),
    LOAMLINE_MQTT_CERTIFICATE: pair.cert,
    LOAMLINE_MQTT_KEY: pair.key,
    LOAMLINE_ZONE: 'Europe/Lisbon',
  })
  const said: string[] = []
  const log = pino({ level: 'info' }, { write: (line: string) => said.push(line) })
  const hub = await openHub(config, { log })
  // It takes this key alone for good, as a probe that pins it does.
  const browser = await openBrowser(`--ignore-certificate-errors-spki-list=${keySha256}`)
  try {
    const url = `https://localhost:${httpPort}`
    const { page, complaints } = await openPage(browser, `${url}/sign-in`, WIDE)
    page.setDefaultTimeout(15_000)
    await page.getByLabel('Name').fill('Ash')
    await page.getByLabel('Password', { exact: true }).fill(PASSWORD)
    await page.getByRole('button', { name: 'Make the owner' }).click()
    await page.getByText('Signed in as Ash').waitFor()
    const [cookie] = await page.context().cookies()
    expect(cookie).toMatchObject({ secure: true, httpOnly: true, sameSite: 'Lax' })
    expect(await page.evaluate('isSecureContext')).toBe(true)
    expect(await page.evaluate('document.cookie')).toBe('')
    expect(await page.getByText('is not encrypted').count()).toBe(0)
    expect(said.join('')).not.toContain('without encryption')

    await page.goto(`${url}/probes`)
    await page.getByRole('textbox', { name: 'Name' }).fill('Fern bed, north')
    await page.getByRole('button', { name: 'Add the probe' }).click()
    await page.getByText(`:${tlsPort}, encrypted`).waitFor()
    await page.getByText(`:${mqttPort}, not encrypted`).waitFor()
    await page.getByText(keySha256, { exact: true }).waitFor()
    for (const [name, size] of [
      ['wide', WIDE],
      ['phone', PHONE],
    ] as const) {
      await page.setViewportSize(size)
      if (SHOTS !== undefined)
        await page.screenshot({ path: join(SHOTS, `probe-over-tls-${name}.png`), fullPage: true })
      expect(await axeFaults(page), name).toEqual([])
      expect(await page.evaluate('document.documentElement.scrollWidth'), name).toBeLessThanOrEqual(
        size.width,
      )
    }
    expect(complaints).toEqual([])
  } finally {
    await browser.close()
    await hub.stop()
  }
}, 90_000)
