import { existsSync } from 'node:fs'
import { chromium, type Browser, type Page } from 'playwright-core'

const CHROMIUM = process.env['CHROMIUM'] ?? '/usr/bin/chromium'

/** Debian's Chromium, headless; without the flags it looks for servers a closed network does not have. */
export async function openBrowser(...extra: readonly string[]): Promise<Browser> {
  if (!existsSync(CHROMIUM)) {
    throw new Error(
      `the browser tests need Chromium at ${CHROMIUM} (Debian: apt-get install chromium), or its path in CHROMIUM`,
    )
  }
  return chromium.launch({
    executablePath: CHROMIUM,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
      ...extra,
    ],
  })
}

/** A page that remembers everything the console complained about. */
export interface WatchedPage {
  readonly page: Page
  readonly complaints: readonly string[]
}

export async function openPage(
  browser: Browser,
  url: string,
  size: { readonly width: number; readonly height: number },
): Promise<WatchedPage> {
  // What a test puts in front of the hub would not be seen by the worker, which asks the hub itself.
  const page = await browser.newPage({ viewport: size, serviceWorkers: 'block' })
  const complaints: string[] = []
  page.on('console', (m) => {
    // Said by the test's own browser, not by the page.
    if (m.text().startsWith('Service Worker registration blocked')) return
    if (m.type() === 'error' || m.type() === 'warning') complaints.push(`${m.type()}: ${m.text()}`)
  })
  page.on('pageerror', (e) => complaints.push(`uncaught: ${e.message}`))
  page.on('requestfailed', (r) => {
    // A fetch that a newer one replaced, or the event stream of a page that is left, is aborted by the page itself.
    if (r.failure()?.errorText !== 'net::ERR_ABORTED') complaints.push(`request failed: ${r.url()}`)
  })
  await page.goto(url)
  return { page, complaints }
}
