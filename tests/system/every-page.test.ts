import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { axeFaults } from '../support/axe-faults.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { inventedFindings } from '../support/findings-fixture.ts'
import { inventFindings } from '../support/findings-routes.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { inventReview } from '../support/review-routes.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const WIDE = { width: 1280, height: 900 }
const PHONE = { width: 360, height: 780 }
/** Where screenshots go when somebody wants to look at them. */
const SHOTS = process.env['SCREENSHOTS']

/** Every page of the dashboard; `{bed}` and `{probe}` stand for one of the demo garden. */
const PATHS = [
  '/',
  '/bed/{bed}',
  '/bed/{bed}/plan',
  '/bed/{bed}/measure',
  '/bed/{bed}/report',
  '/bed/new',
  '/probes',
  '/probe/{probe}',
  '/probe/{probe}/calibrate',
  '/journal',
  '/review',
  '/report',
  '/trials',
  '/alarms',
  '/interfaces',
  '/settings',
  '/settings/people',
  '/settings/messages',
  '/data',
  '/sign-in',
  '/no-such-page',
] as const

let hub: HubProcess
let browser: Browser
let beds: BedView[]
let probe: ProbeView
const dir = tempDir()

beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('demo', dir.path)
  if (SHOTS !== undefined) mkdirSync(SHOTS, { recursive: true })
  beds = await until(
    'six beds with a pH',
    async () => {
      const all = await hub.get<BedView[]>('/api/beds')
      return all.filter(({ ph }) => ph.status === 'ok').length >= 6 ? all : undefined
    },
    120_000,
  )
  probe = (await hub.get<ProbeView[]>('/api/probes')).find((one) =>
    one.channels.some(({ senses }) => senses === 'ph.emf'),
  )!
}, 180_000)
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

const addressOf = (path: string): string =>
  path.replace('{bed}', String(beds[0]!.id)).replace('{probe}', probe.id)

async function open(
  path: string,
  size: { readonly width: number; readonly height: number },
  scheme: 'light' | 'dark',
) {
  const opened = await openPage(browser, 'about:blank', size)
  const { page } = opened
  page.setDefaultTimeout(10_000)
  await page.emulateMedia({ colorScheme: scheme, reducedMotion: 'reduce' })
  // Findings, treatments and trials of every kind, which a demo garden has not all at once.
  const now = Date.now()
  await inventFindings(page, (id) => inventedFindings(id, now), now)
  await inventReview(page, [beds[0]!, beds[1]!], now)
  await page.goto(hub.url + addressOf(path))
  await page.locator('main h1, main .first-steps, form').first().waitFor()
  // What is fetched later has come, or said that it cannot.
  await until(
    'nothing is being fetched',
    async () => (await page.locator('main .quiet-line').filter({ hasText: '…' }).count()) === 0,
    30_000,
  )
  return opened
}

/** How far the page can be pushed sideways, px. */
const sideways = (page: Page): Promise<number> =>
  page.evaluate<number>(
    'document.documentElement.scrollWidth - document.documentElement.clientWidth',
  )

describe.each(PATHS)('%s', (path) => {
  const name = path.replaceAll(/[{}]/g, '').replaceAll('/', '-').slice(1) || 'garden'
  test.each([
    ['wide', WIDE, 'light'],
    ['wide', WIDE, 'dark'],
    ['phone', PHONE, 'light'],
    ['phone', PHONE, 'dark'],
  ] as const)('%s, %o, %s: nobody is shut out', async (width, size, scheme) => {
    const { page, complaints } = await open(path, size, scheme)
    expect(await axeFaults(page)).toEqual([])
    expect(await sideways(page), 'can be pushed sideways by so many px').toBeLessThanOrEqual(0)
    expect(complaints).toEqual([])
    if (SHOTS !== undefined) {
      await page.screenshot({
        path: join(SHOTS, `every-${name}-${width}-${scheme}.png`),
        fullPage: true,
      })
    }
    await page.close()
  })

  // WCAG 2.2, 1.4.4: text at twice its size, nothing lost.
  test('text at twice its size needs no scrolling sideways', async () => {
    const { page } = await open(path, WIDE, 'light')
    await page.evaluate("document.documentElement.style.fontSize = '200%'")
    expect(await sideways(page)).toBeLessThanOrEqual(0)
    await page.close()
  })
})
