import { mkdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { Garden } from '#hub/api/schemas/garden.ts'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import type { Language } from '#hub/model/language.ts'
import { openBrowser } from '../support/browser.ts'
import { inventedFindings, inventedTrials } from '../support/findings-fixture.ts'
import { inventFindings } from '../support/findings-routes.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { inventedDecision } from '../support/planning-fixture.ts'
import { inventPlanning } from '../support/planning-routes.ts'
import { inventReview } from '../support/review-routes.ts'
import { codesOf, hear, MARKING_CATALOGUE, unsaid } from '../support/said-on-page.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const PHONE = { width: 360, height: 780 }
/** Where screenshots go when somebody wants to look at them. */
const SHOTS = process.env['SCREENSHOTS']

let hub: HubProcess
let browser: Browser
let beds: BedView[]
let paths: readonly string[]
let codes: Set<string>
const dir = tempDir()

const speakAs = async (language: Language): Promise<void> => {
  const garden = await hub.get<Garden>('/api/garden')
  expect((await hub.send('PUT', '/api/garden', { ...garden, language })).ok).toBe(true)
}

beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('demo', dir.path)
  if (SHOTS !== undefined) mkdirSync(SHOTS, { recursive: true })
  beds = await until(
    'a bed with a pH',
    async () => {
      const all = await hub.get<BedView[]>('/api/beds')
      return all[0]?.ph.status === 'ok' ? all : undefined
    },
    170_000,
  )
  const probe = (await hub.get<ProbeView[]>('/api/probes')).find((one) =>
    one.channels.some(({ senses }) => senses === 'ph.emf'),
  )!
  const bed = beds[0]!.id
  paths = [
    '/',
    `/bed/${bed}`,
    `/bed/${bed}/plan`,
    `/bed/${bed}/measure`,
    '/bed/new',
    '/probes',
    `/probe/${probe.id}`,
    `/probe/${probe.id}/calibrate`,
    '/review',
    '/report',
    `/bed/${bed}/report`,
    '/trials',
    '/journal',
    '/alarms',
    '/settings',
    '/settings/people',
    '/settings/messages',
    '/data',
    '/interfaces',
    '/sign-in',
    '/Loamline',
  ]
  codes = codesOf(await hub.get('/api/openapi.json'))
  expect(codes.size).toBeGreaterThan(100)
}, 240_000)
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

/** A page without a worker in between, so that what it fetches can be looked at. */
async function open(size = { width: 1280, height: 900 }, locale = 'en-GB'): Promise<Page> {
  const context = await browser.newContext({ viewport: size, serviceWorkers: 'block', locale })
  const page = await context.newPage()
  page.setDefaultTimeout(20_000)
  return page
}
const close = (page: Page): Promise<void> => page.context().close()

/** Waits until nothing is being fetched and the headline stands. */
async function arrive(page: Page, path: string): Promise<void> {
  await page.goto(hub.url + path)
  await page
    .locator('h1, .quiet-line, form')
    .first()
    .waitFor()
    .catch(async (error: unknown) => {
      const body = await page.locator('body').innerText()
      throw new Error(`${path} shows no page: ${body.slice(0, 300)}`, { cause: error })
    })
  await until(
    `nothing is fetched any more on ${path}`,
    async () => {
      const busy = await page.locator('.quiet-line').count()
      await page.waitForTimeout(300)
      return busy === 0 && (await page.locator('.quiet-line').count()) === 0
    },
    15_000,
  ).catch(() => undefined)
}

/** What would close again, leave the page or ask anew for all of it. */
const LEAVES = /Cancel|Close|Load again|One step back|Take it in|Back/

/** Opens every form and everything folded, so that all of a page is there. */
async function unfold(page: Page): Promise<void> {
  const buttons = page.locator('main button:not([type=submit])')
  for (let i = 0; i < Math.min(40, await buttons.count()); i += 1) {
    const button = buttons.nth(i)
    if (LEAVES.test((await button.textContent()) ?? '')) continue
    // What is covered or gone by now was not meant to be pressed.
    await button.click({ timeout: 700, noWaitAfter: true }).catch(() => undefined)
  }
}

/** The pages in marks instead of German; what comes live is not looked at. */
async function openMarked(): Promise<Page> {
  const page = await open()
  await page.route(/\/assets\/de-[\w-]+\.js$/, (route) =>
    route.fulfill({ contentType: 'text/javascript', body: MARKING_CATALOGUE }),
  )
  await page.route('**/api/live*', (route) => route.abort())
  return page
}

describe('nothing a page says comes from elsewhere than its catalogue', () => {
  test('every page there is is looked at', async () => {
    // Named at run time: the pages are checked with types of the browser, this file is not.
    const router: string = '../../dashboard/src/router.ts'
    const { parseRoute } = (await import(router)) as {
      parseRoute: (path: string) => { page: string }
    }
    const source = readFileSync('dashboard/src/router.ts', 'utf8')
    const known = new Set(Array.from(source.matchAll(/readonly page: '([\w-]+)'/g), ([, n]) => n))
    const visited = new Set<string | undefined>(paths.map((path) => parseRoute(path).page))
    // A share page has an address that only the hub can make.
    visited.add('shared')
    expect([...known].filter((page) => !visited.has(page))).toEqual([])
  })

  test('in a garden as it is', async () => {
    await speakAs('de')
    const page = await openMarked()
    const told = hear(page, codes, 'de-DE')
    const found: Record<string, string[]> = {}
    for (const path of paths) {
      await arrive(page, path)
      const texts = await unsaid(page, told)
      if (texts.length > 0) found[path] = texts
      expect(await page.locator('body').innerText(), path).toContain('⟦')
    }
    await close(page)
    expect(found).toEqual({})
  }, 180_000)

  test('with forms open, and with findings, plans, trials and a review of every kind', async () => {
    await speakAs('de')
    const page = await openMarked()
    const now = Date.now()
    const [bed, other] = beds
    await inventFindings(page, (id) => inventedFindings(id, now), now)
    await inventPlanning(page, inventedDecision(bed!.id, now), now)
    await inventReview(page, [bed!, other!], now)
    await page.route('**/api/trials', (route) =>
      route.fulfill({
        contentType: 'application/json',
        body: JSON.stringify(inventedTrials(now)),
      }),
    )
    // A look around changes nothing.
    await page.route('**/api/**', (route) =>
      ['GET', 'HEAD'].includes(route.request().method()) ? route.fallback() : route.abort(),
    )
    const told = hear(page, codes, 'de-DE')
    const found: Record<string, string[]> = {}
    for (const path of paths) {
      await arrive(page, path)
      await unfold(page)
      const texts = await unsaid(page, told)
      if (texts.length > 0) found[path] = texts
    }
    await close(page)
    expect(found).toEqual({})
  }, 240_000)
})

const sideways = (page: Page): Promise<number> =>
  page.evaluate<number>(
    'document.documentElement.scrollWidth - document.documentElement.clientWidth',
  )

describe.each([
  { language: 'de', garden: 'Garten', settings: 'Einstellungen', number: /\d,\d\d/ },
  { language: 'es', garden: 'Huerto', settings: 'Ajustes', number: /\d,\d\d/ },
] as const)('shown in $language', ({ language, garden, settings, number }) => {
  test('every page fits a narrow phone', async () => {
    await speakAs(language)
    const page = await open(PHONE)
    const wide: Record<string, number> = {}
    for (const path of paths) {
      await arrive(page, path)
      await page.locator(`html[lang=${language}]`).waitFor()
      const over = await sideways(page)
      if (over > 0) wide[path] = over
      if (SHOTS !== undefined) {
        const name = path.replaceAll('/', '_')
        await page.screenshot({ path: join(SHOTS, `${language}${name}.png`), fullPage: true })
      }
    }
    expect(wide).toEqual({})
    await close(page)
  }, 120_000)

  test('numbers and fields with the decimal sign of the language', async () => {
    await speakAs(language)
    const page = await open()
    await arrive(page, '/')
    expect(await page.getByTestId('present-ph').first().innerText()).toMatch(number)
    await arrive(page, `/bed/${beds[0]!.id}/measure`)
    const field = page.locator('form.hand-value input')
    await field.fill('6,45')
    await field.press('Enter')
    await field.fill('6.5')
    await field.press('Enter')
    expect(await page.locator('ul.hand-values').innerText()).toMatch(/6,45[^]*6,50/)
    await close(page)
  })

  test('the first paint is in the language of the last time', async () => {
    await speakAs(language)
    const page = await open()
    await arrive(page, '/')
    await page.getByRole('link', { name: settings, exact: true }).waitFor()
    // The hub says nothing now: what is painted comes from the device and the catalogue.
    await page.route('**/api/**', (route) => route.abort())
    await page.reload()
    await page.getByRole('link', { name: settings, exact: true }).waitFor()
    await until('the title is said too', async () => (await page.title()).includes(garden))
    await close(page)
  })
})

/** The button that stores the language that is ticked. */
const chooser = (page: Page) =>
  page.locator('form', { has: page.getByRole('radio', { name: 'Español' }) }).getByRole('button')

describe('choosing a language', () => {
  test('in Settings it changes everything at once, without a reload, and back again', async () => {
    await speakAs('en')
    const page = await open()
    await arrive(page, '/settings')
    await page.evaluate('window.still = true')
    await page.getByRole('radio', { name: 'Español' }).check()
    await chooser(page).click()
    await page.getByRole('heading', { level: 1, name: 'Ajustes' }).waitFor()
    expect(await page.locator('html').getAttribute('lang')).toBe('es')
    expect(await page.title()).toContain('Ajustes')
    expect(await page.getByRole('navigation', { name: 'Páginas' }).innerText()).toMatch(
      /Huerto\s+Sondas/,
    )
    await page.getByRole('link', { name: 'Huerto', exact: true }).click()
    await until('a sentence of the hub in Spanish', async () =>
      /está|intervalo|bancal/.test(await page.locator('main').innerText()) ? true : undefined,
    )
    await page.getByRole('link', { name: 'Ajustes', exact: true }).click()
    await page.getByRole('radio', { name: 'English' }).check()
    await chooser(page).click()
    await page.getByRole('heading', { level: 1, name: 'Settings' }).waitFor()
    expect(await page.locator('html').getAttribute('lang')).toBe('en')
    expect(await page.evaluate('window.still')).toBe(true)
    await close(page)
  })

  test('another page that is open follows', async () => {
    await speakAs('en')
    const page = await open()
    await arrive(page, '/')
    await page.getByRole('link', { name: 'Probes', exact: true }).waitFor()
    await speakAs('de')
    await page.getByRole('link', { name: 'Sonden', exact: true }).waitFor()
    await close(page)
  })

  test('an empty garden offers the language of the browser, and takes no for an answer', async () => {
    const empty = tempDir()
    const young = await startHub('start', empty.path)
    try {
      const page = await open(PHONE, 'de-DE')
      await page.goto(young.url)
      const offer = page.getByTestId('language-offer')
      await offer.getByRole('button', { name: 'Auf Deutsch' }).click()
      await page.getByRole('link', { name: 'Garten', exact: true }).waitFor()
      expect(await offer.count()).toBe(0)
      expect((await young.get<Garden>('/api/garden')).language).toBe('de')
      await close(page)
      const garden = await young.get<Garden>('/api/garden')
      await young.send('PUT', '/api/garden', { ...garden, language: 'en' })
      const other = await open(PHONE, 'es-ES')
      await other.goto(young.url)
      await other.getByRole('button', { name: 'Dejar en inglés' }).click()
      expect(await other.getByTestId('language-offer').count()).toBe(0)
      await other.reload()
      await other.getByRole('heading', { level: 1 }).first().waitFor()
      expect(await other.getByTestId('language-offer').count()).toBe(0)
      await close(other)
    } finally {
      await young.end()
      empty[Symbol.dispose]()
    }
  }, 60_000)
})
