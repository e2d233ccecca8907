import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, BrowserContext, Page } from 'playwright-core'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { Entry } from '#hub/api/schemas/journal.ts'
import { axeFaults } from '../support/axe-faults.ts'
import { openBrowser } from '../support/browser.ts'
import { cuttingProxy, type CuttingProxy } from '../support/cutting-proxy.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { pretendHub } from '../support/pretend-hub.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const SHOTS = process.env['SCREENSHOTS']
const WIDE = { width: 1280, height: 900 }
const PHONE = { width: 360, height: 780 }

let hub: HubProcess
let browser: Browser
let bed: BedView
const dir = tempDir()
beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  if (SHOTS !== undefined) mkdirSync(SHOTS, { recursive: true })
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

/** Each test has a browser of its own, a bed of its own, and a line to the hub that can be taken down. */
let context: BrowserContext
let line: CuttingProxy
let address: string
beforeEach(async () => {
  const made = await hub.send('POST', '/api/beds', {
    name: `Bed ${Math.round(performance.now())}`,
    areaM2: 4.5,
    depthM: 0.3,
    texture: 'loam',
    crops: [],
    ownBand: { low: 6, high: 6.8 },
  })
  bed = (await made.json()) as BedView
  context = await browser.newContext({ viewport: WIDE })
  context.setDefaultTimeout(10_000)
  line = await cuttingProxy(Number(new URL(hub.url).port))
  address = `http://127.0.0.1:${line.port}`
})
afterEach(async () => {
  await context.close()
  await line[Symbol.asyncDispose]()
})

const journal = (): Promise<Entry[]> => hub.get<Entry[]>(`/api/beds/${bed.id}/journal`)

async function open(path: string): Promise<Page> {
  const page = await context.newPage()
  await page.goto(address + path)
  await page.getByRole('heading', { level: 1 }).waitFor()
  return page
}
/** Waits until the worker has the pages and what was fetched so far. */
async function ready(page: Page): Promise<void> {
  await until(
    'the worker is at work',
    () =>
      page.evaluate(`(async () => {
        if (navigator.serviceWorker.controller === null) return false
        const names = await caches.keys()
        const shell = names.find((name) => name.startsWith('loamline shell'))
        const answers = names.find((name) => name.startsWith('loamline answers'))
        if (shell === undefined || answers === undefined) return false
        const kept = (await (await caches.open(answers)).keys()).map(({ url }) => new URL(url).pathname)
        return kept.includes('/api/beds') && kept.includes('/api/garden') && kept.includes('/api/health')
      })()`) as Promise<boolean>,
    30_000,
  )
}

async function write(page: Page, text: string): Promise<void> {
  await page.getByRole('button', { name: 'Write an entry' }).click()
  const form = page.getByRole('form', { name: 'New journal entry' })
  await form.getByRole('radio', { name: 'Note' }).check({ force: true })
  await form.getByLabel('Note', { exact: true }).last().fill(text)
  await form.getByRole('button', { name: 'Save entry' }).click()
  await form.waitFor({ state: 'detached', timeout: 20_000 })
}
const waiting = (page: Page) => page.getByRole('list', { name: 'Waiting to be sent' })

describe('without a connection', () => {
  test('the pages open again, with what was fetched and how old it is', async () => {
    await hub.send('POST', `/api/beds/${bed.id}/journal`, {
      kind: 'note',
      at: Date.now() - 60_000,
      text: 'first bean in flower',
    })
    const page = await open(`/bed/${bed.id}`)
    await page.locator('[data-entry]').getByText('first bean in flower').waitFor()
    await ready(page)
    line.setDown(true)
    await page.reload()
    await page.getByRole('heading', { level: 1, name: bed.name }).waitFor()
    await page.locator('[data-entry]').getByText('first bean in flower').waitFor()
    await page.getByTestId('connection').waitFor()
    expect(await page.getByTestId('connection').innerText()).toMatch(
      /data as of \d\d:\d\d \(.+\), retrying/,
    )
    // Pages that were never opened are there too: their code came with the worker.
    await page.getByRole('link', { name: 'Settings' }).click()
    await page.getByRole('heading', { level: 2, name: 'This device' }).waitFor()
    await page.getByText('These pages open without a connection too').waitFor()
    await page.getByRole('link', { name: 'Garden', exact: true }).click()
    await page.getByRole('link', { name: bed.name, exact: true }).waitFor()
    await page.close()
  }, 90_000)

  test('an open page goes on between what it has, also without a worker', async () => {
    await context.close()
    context = await browser.newContext({ viewport: WIDE, serviceWorkers: 'block' })
    const page = await open(`/bed/${bed.id}`)
    await page.getByRole('heading', { level: 2, name: 'Journal' }).waitFor()
    await page.getByRole('link', { name: 'Garden', exact: true }).click()
    await page.getByRole('link', { name: bed.name, exact: true }).waitFor()
    line.setDown(true)
    await page.getByTestId('connection').waitFor()
    await page.getByRole('link', { name: bed.name, exact: true }).click()
    await page.getByRole('heading', { level: 1, name: bed.name }).waitFor()
    await page.getByRole('heading', { level: 2, name: 'Journal' }).waitFor()
    expect(await page.getByText(/could not be fetched/).allInnerTexts()).toEqual([])
    await page.close()
  }, 60_000)

  test('nothing secret and nothing of others is kept', async () => {
    const page = await open(`/bed/${bed.id}`)
    await ready(page)
    await page.evaluate(`Promise.all([
      '/api/openapi.json', '/api/export/records/journal', '/api/calendar.ics', '/api/quarantine'
    ].map((path) => fetch(path)))`)
    const kept = await page.evaluate<string[]>(`(async () => {
      const all = []
      for (const name of await caches.keys()) {
        for (const { url } of await (await caches.open(name)).keys()) all.push(new URL(url).pathname)
      }
      return all
    })()`)
    expect(kept.some((path) => path.startsWith('/assets/'))).toBe(true)
    expect(
      kept.filter((path) =>
        /openapi|export|calendar|quarantine|password|backup|shared|live/.test(path),
      ),
    ).toEqual(
      kept.filter(
        (path) => path.startsWith('/assets/') && /shared|backup|password|live/.test(path),
      ),
    )
    await page.close()
  }, 60_000)
})

describe('what is written down without a connection', () => {
  test('waits on the device through a reload, is changed, and is sent once when the hub is back', async () => {
    const page = await open(`/bed/${bed.id}`)
    await ready(page)
    line.setDown(true)
    await page.getByTestId('connection').waitFor()
    await write(page, 'slug pelets round the lettuce')
    await write(page, 'a second thought')
    await page.reload()
    await waiting(page).getByText('slug pelets round the lettuce').waitFor()
    expect(await page.getByTestId('waiting').innerText()).toBe(
      '2 entries wait on this device to be sent.',
    )
    if (SHOTS !== undefined) {
      await page.screenshot({ path: join(SHOTS, 'offline-wide.png') })
      await page.setViewportSize(PHONE)
      await page.emulateMedia({ colorScheme: 'dark' })
      await waiting(page).scrollIntoViewIfNeeded()
      await page.screenshot({ path: join(SHOTS, 'offline-phone.png') })
      await page.setViewportSize(WIDE)
    }
    expect(await axeFaults(page)).toEqual([])
    await waiting(page)
      .getByRole('button', { name: /^Change what waits: Note/ })
      .first()
      .click()
    const form = page.getByRole('form', { name: 'Change journal entry' })
    await form.getByLabel('Note', { exact: true }).last().fill('slug pellets round the lettuce')
    await form.getByRole('button', { name: 'Save entry' }).click()
    await waiting(page).getByText('slug pellets round the lettuce').waitFor({ timeout: 20_000 })
    const second = waiting(page).locator('li').filter({ hasText: 'a second thought' })
    await second.getByRole('button', { name: 'Remove' }).click()
    await second.getByRole('button', { name: 'Yes, remove' }).click()
    await second.waitFor({ state: 'detached' })
    expect(await journal()).toEqual([])
    line.setDown(false)
    await waiting(page).waitFor({ state: 'detached', timeout: 40_000 })
    await page.locator('[data-entry]').getByText('slug pellets round the lettuce').waitFor()
    await until('the hub has what was meant, and nothing else', async () => {
      const texts = (await journal()).map(({ text }) => text)
      return texts.length === 1 && texts[0] === 'slug pellets round the lettuce'
    })
    await page.close()
  }, 120_000)

  test('is stored once although the answer was lost, and says so when it has waited for nothing', async () => {
    const page = await open(`/bed/${bed.id}`)
    await page.getByRole('heading', { level: 2, name: 'Journal' }).waitFor()
    // New connections get through to the hub, but of the answers only the first bytes come back.
    line.setDown(true)
    line.setDown(false)
    line.cutAfter(() => 20)
    await write(page, 'limed the long side')
    await until('the hub has it', async () => (await journal()).length > 0)
    await waiting(page).getByText('limed the long side').waitFor()
    line.cutAfter(() => null)
    await waiting(page).waitFor({ state: 'detached', timeout: 40_000 })
    expect((await journal()).map(({ text }) => text)).toEqual(['limed the long side'])
    await page.close()
  }, 90_000)

  test('hand measurements too', async () => {
    const page = await open(`/bed/${bed.id}/measure`)
    await page.getByLabel('pH in spot 1').waitFor()
    await ready(page)
    line.setDown(true)
    await page.getByTestId('connection').waitFor()
    for (const [i, ph] of ['6.4', '6.6'].entries()) {
      await page.getByLabel(`pH in spot ${i + 1}`).fill(ph)
      await page.getByRole('button', { name: 'Note it, next spot' }).click()
    }
    await page.getByRole('button', { name: 'Save as one sample' }).click()
    await page.getByRole('heading', { level: 1, name: bed.name }).waitFor({ timeout: 20_000 })
    await waiting(page).getByText('pH measured in 2 spots: 6.40; 6.60').waitFor()
    line.setDown(false)
    await waiting(page).waitFor({ state: 'detached', timeout: 40_000 })
    expect((await journal()).map(({ ph }) => ph)).toEqual([6.5])
    await page.close()
  }, 90_000)

  test('and is refused later says why; it can be taken back', async () => {
    const page = await open(`/bed/${bed.id}`)
    await page.getByRole('heading', { level: 2, name: 'Journal' }).waitFor()
    line.setDown(true)
    await page.getByTestId('connection').waitFor()
    await page.getByRole('button', { name: 'Write an entry' }).click()
    const form = page.getByRole('form', { name: 'New journal entry' })
    await form.getByRole('radio', { name: 'Note' }).check({ force: true })
    await form.getByLabel('When').fill('2031-05-01T10:00')
    await form.getByLabel('Note', { exact: true }).last().fill('from the future')
    await form.getByRole('button', { name: 'Save entry' }).click()
    await waiting(page).getByText('from the future').waitFor({ timeout: 20_000 })
    line.setDown(false)
    const refused = waiting(page).getByText(
      /The hub does not take it: expected a time that has come/,
    )
    await refused.waitFor({ timeout: 40_000 })
    expect(await page.getByTestId('waiting').innerText()).toContain(
      'The hub does not take 1 of them as it is',
    )
    await waiting(page).getByRole('button', { name: 'Remove' }).click()
    await waiting(page).getByRole('button', { name: 'Yes, remove' }).click()
    await waiting(page).waitFor({ state: 'detached' })
    expect(await journal()).toEqual([])
    await page.close()
  }, 90_000)
})

test('a newer version is told of, and taken when the gardener says so', async () => {
  let version = 'first'
  await using pages = await pretendHub({
    beds: 2,
    change: (file, content) => (file === '/worker.js' ? `/* ${version} */ ${content}` : content),
  })
  const page = await context.newPage()
  await page.goto(pages.url)
  await ready(page)
  expect(await page.getByTestId('new-version').count()).toBe(0)
  version = 'second'
  await page.evaluate('navigator.serviceWorker.ready.then((it) => void it.update())')
  const told = page.getByTestId('new-version')
  await told.getByText('A new version of these pages is ready.').waitFor()
  await page.evaluate('window.neverReloaded = true')
  await told.getByRole('button', { name: 'Use it now' }).click()
  await until(
    'the page is the new one',
    async () =>
      (await page.evaluate('window.neverReloaded === undefined').catch(() => false)) === true,
  )
  await page.getByRole('link', { name: 'Bed 1', exact: true }).waitFor()
  expect(await told.count()).toBe(0)
}, 60_000)

test('at an address that is not secure the page says what does not work, and still keeps what is written', async () => {
  await using pages = await pretendHub({ beds: 2 })
  const port = new URL(pages.url).port
  const other = await openBrowser('--host-resolver-rules=MAP hub.home.arpa 127.0.0.1')
  const page = await other.newPage()
  await page.goto(`http://hub.home.arpa:${port}/settings`)
  await page.getByText(/that takes HTTPS, or the hub's own machine/).waitFor({ timeout: 15_000 })
  await page.getByText(/wait on this device, also when it is switched off/).waitFor()
  await other.close()
}, 60_000)

test('can be installed: a manifest with icons that are there', async () => {
  const page = await context.newPage()
  await page.goto(address)
  const session = await context.newCDPSession(page)
  const { errors, data } = await session.send('Page.getAppManifest')
  expect(errors).toEqual([])
  const manifest = JSON.parse(data!) as {
    name: string
    display: string
    icons: { src: string; sizes: string; purpose: string }[]
  }
  expect(manifest).toMatchObject({ name: 'Loamline', display: 'standalone' })
  for (const { src, sizes } of manifest.icons) {
    const icon = await fetch(hub.url + src)
    expect(icon.ok, src).toBe(true)
    if (sizes === 'any') continue
    const png = Buffer.from(await icon.arrayBuffer())
    expect(`${png.readUInt32BE(16)}x${png.readUInt32BE(20)}`).toBe(sizes)
  }
  expect(manifest.icons.some(({ purpose }) => purpose === 'maskable')).toBe(true)
  const { installabilityErrors } = await session.send('Page.getInstallabilityErrors')
  // A context of a test is a private window, which never installs.
  const faults = installabilityErrors.map(({ errorId }) => errorId)
  expect(faults.filter((fault) => fault !== 'in-incognito')).toEqual([])
})
