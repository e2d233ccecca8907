import { readFileSync, writeFileSync } from 'node:fs'
import { mkdir } from 'node:fs/promises'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const SIZES = [
  ['wide', 1280, 900],
  ['phone', 360, 780],
] as const
const SHOTS = process.env['SCREENSHOTS']

let browser: Browser
let hub: HubProcess
const dir = tempDir()
const files = tempDir()

beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
  files[Symbol.dispose]()
})

async function shot(page: Page, name: string): Promise<void> {
  const most = await page.evaluate('document.documentElement.scrollWidth - innerWidth')
  expect(most, `${name} is wider than the screen`).toBeLessThanOrEqual(0)
  if (SHOTS === undefined) return
  await mkdir(SHOTS, { recursive: true })
  await page.screenshot({ path: join(SHOTS, `data-${name}.png`), fullPage: true })
}

/** A logger's table: semicolons, decimal commas, days first, its own words for the columns. */
function table(rows: readonly string[]): string {
  return ['Zeit;Elektrode;Bodenfeuchte;Wärme', ...rows].join('\r\n')
}

test.each(SIZES)(
  'a file is explained, looked through, stored and fetched again: %s',
  async (name, width, height) => {
    const probe = `fern${width}`
    const good = join(files.path, `${name}.csv`)
    const rows = Array.from(
      { length: 60 },
      (_, i) => `01.05.2026 1${Math.floor(i / 10)}:${i % 10}0;-12,${i % 10};18${i};68`,
    ).filter((row) => !/:[6-9]0;/.test(row))
    writeFileSync(good, table(rows))
    const broken = join(files.path, `${name}-broken.csv`)
    writeFileSync(broken, table([...rows.slice(0, 3), '01.05.2026 13:00;wet;1800;68']))

    const { page, complaints } = await openPage(browser, `${hub.url}/settings`, { width, height })
    page.setDefaultTimeout(8000)
    await page.getByRole('link', { name: 'Data', exact: true }).click()
    await page.getByRole('heading', { name: 'Take readings in' }).waitFor()
    await shot(page, `${name}-empty`)

    const explain = async (file: string): Promise<void> => {
      await page.getByLabel('File with readings').setInputFiles(file)
      await page.getByLabel('Probe', { exact: true }).fill(probe)
      await page.getByLabel('Channel of Elektrode').fill('phmv')
      await page.getByLabel('Channel of Bodenfeuchte').fill('m1')
      await page.getByLabel('Channel of Wärme').fill('st')
      await page.getByLabel('Unit of Wärme').fill('°F')
    }
    // Nothing is said yet: asked for by name, nothing is sent.
    await page.getByLabel('File with readings').setInputFiles(broken)
    await page.getByRole('button', { name: 'Check the whole file' }).click()
    await page.getByText('give at least one column a channel').waitFor()

    await explain(broken)
    const bad = page.getByTestId('bad-rows')
    await bad.getByText(/line 5 · Elektrode: expected a number .* got wet/).waitFor()
    await page.getByRole('button', { name: 'Check the whole file' }).click()
    await page.getByTestId('import-summary').waitFor()
    expect(await page.getByRole('button', { name: /^Store/ }).count()).toBe(0)
    await shot(page, `${name}-bad`)
    expect((await hub.get<ProbeView[]>('/api/probes')).map(({ id }) => id)).not.toContain(probe)

    await explain(good)
    const preview = page.getByTestId('import-preview')
    await preview.getByText(/phmv [-−]12 mV, m1 180 counts, st 20 °C/).waitFor()
    // The garden's clock: ten in the morning as the file says.
    expect(await preview.innerText()).toMatch(/10:00/)
    await page.getByRole('button', { name: 'Check the whole file' }).click()
    await shot(page, `${name}-checked`)
    await page.getByRole('button', { name: `Store ${rows.length} readings` }).click()
    await page.getByText(new RegExp(String.raw`^${rows.length} readings stored\.`)).waitFor()
    await shot(page, `${name}-stored`)
    const stored = await until('the probe is there', async () =>
      (await hub.get<ProbeView[]>('/api/probes')).find(({ id }) => id === probe),
    )
    expect(stored.channels.map((c) => [c.name, c.unit])).toEqual([
      ['m1', 'count'],
      ['phmv', 'mV'],
      ['st', 'Cel'],
    ])
    expect(stored.firstSeenAt).toBe(Date.parse('2026-05-01T09:00:00Z'))

    await page.getByRole('button', { name: 'Another file' }).click()
    await explain(good)
    await page.getByRole('button', { name: 'Check the whole file' }).click()
    await page.getByRole('button', { name: 'Store 0 readings' }).click()
    await page.getByText('Nothing was new').waitFor()

    await page.getByLabel('Readings of').selectOption(probe)
    const saved = page.waitForEvent('download')
    await page.getByRole('link', { name: 'Download readings' }).click()
    const exported = readFileSync(await (await saved).path(), 'utf8')
    expect(exported.split('\r\n')[0]).toBe(
      '\uFEFF"time (ISO 8601, Europe/Lisbon)",probe,m1 (count),phmv (mV),st (Cel)',
    )
    expect(exported.split('\r\n')[1]).toBe(`2026-05-01T10:00:00+01:00,${probe},180,-12,20`)
    expect(complaints).toEqual([])
    await page.close()
  },
  60_000,
)

test('a backup can be downloaded', async () => {
  const { page } = await openPage(browser, `${hub.url}/data`, { width: 1280, height: 900 })
  const saved = page.waitForEvent('download')
  await page.getByRole('link', { name: 'Download a backup' }).click()
  const download = await saved
  expect(download.suggestedFilename()).toMatch(/^loamline-\d{4}-\d{2}-\d{2}\.tar$/)
  const bytes = readFileSync(await download.path())
  expect(bytes.toString('latin1', 257, 262)).toBe('ustar')
  expect(bytes.includes('backup.json')).toBe(true)
  await page.close()
}, 30_000)

test('SenML: its names are mapped, its records looked through and stored', async () => {
  const file = join(files.path, 'logger.json')
  const begun = Date.parse('2026-05-02T09:00:00Z') / 1000
  const records = [
    { bn: 'urn:dev:garden:reed7:', bt: begun, n: 'phmv', u: 'V', v: -0.0125 },
    { n: 'temperature', u: 'K', v: 293.15 },
    { n: 'phmv', u: 'V', t: 600, v: -0.0126 },
  ]
  writeFileSync(file, JSON.stringify(records))
  const { page, complaints } = await openPage(browser, `${hub.url}/data`, {
    width: 1280,
    height: 900,
  })
  page.setDefaultTimeout(8000)
  await page.getByLabel('File with readings').setInputFiles(file)
  expect(await page.getByLabel('The probe', { exact: true }).inputValue()).toBe('name')
  await page.getByLabel('Channel of temperature').fill('st')
  await page
    .getByTestId('import-preview')
    .getByText(/st 20 °C/)
    .waitFor()
  await page.getByRole('button', { name: 'Check the whole file' }).click()
  await page.getByRole('button', { name: 'Store 2 readings' }).click()
  await page.getByText(/^2 readings stored\./).waitFor()
  const probes = await hub.get<ProbeView[]>('/api/probes')
  const stored = probes.find(({ id }) => id === 'reed7')
  expect(stored?.channels.map((c) => [c.name, c.unit, c.latest])).toEqual([
    ['phmv', 'mV', -12.6],
    ['st', 'Cel', 20],
  ])
  expect(complaints).toEqual([])
  await page.close()
})
