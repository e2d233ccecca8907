import { readFileSync } from 'node:fs'
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { parse } from 'csv-parse/sync'
import type { Browser, BrowserContextOptions, Locator, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { axeFaults } from '../support/axe-faults.ts'
import { openBrowser } from '../support/browser.ts'
import { pretendHub, type PretendHub } from '../support/pretend-hub.ts'
import { touch } from '../support/touch.ts'
import { until } from '../support/until.ts'

const WIDE = { viewport: { width: 1280, height: 900 } }
const PHONE = { viewport: { width: 360, height: 780 }, hasTouch: true, isMobile: true }
const SHOTS = process.env['SCREENSHOTS']
const HOUR = 3_600_000

let browser: Browser
let hub: PretendHub
beforeAll(async () => {
  browser = await openBrowser()
  hub = await pretendHub({ beds: 50, rows: 400 })
  if (SHOTS !== undefined) mkdirSync(SHOTS, { recursive: true })
})
afterAll(async () => {
  await hub?.[Symbol.asyncDispose]()
  await browser?.close()
})

async function open(
  path: string,
  options: BrowserContextOptions = WIDE,
): Promise<{ page: Page; complaints: string[] }> {
  const context = await browser.newContext({ acceptDownloads: true, ...options })
  const page = await context.newPage()
  page.setDefaultTimeout(8000)
  const complaints: string[] = []
  page.on('console', (m) => {
    if (m.type() === 'error' || m.type() === 'warning') complaints.push(m.text())
  })
  page.on('pageerror', (error) => complaints.push(error.message))
  await page.goto(hub.url + path)
  return { page, complaints }
}
const cursorOf = (page: Page, name: string): Locator =>
  page.getByRole('slider', { name: new RegExp(`^${name}: the reading`) })
const reading = (cursor: Locator): Promise<string | null> => cursor.getAttribute('aria-valuetext')
const place = async (cursor: Locator): Promise<number> =>
  Number(await cursor.getAttribute('aria-valuenow'))
/** Days that the named stretch in the address spans; null without one. */
const askedDays = (page: Page): number | null => {
  const asked = new URL(page.url()).searchParams
  const [from, to] = [asked.get('from'), asked.get('to')]
  return from === null || to === null ? null : (Date.parse(to) - Date.parse(from)) / 24 / HOUR
}

describe('by keyboard', () => {
  test('the cursor goes over the columns, and the reading is said', async () => {
    const { page, complaints } = await open('/bed/1')
    const cursor = cursorOf(page, 'pH')
    await cursor.focus()
    await until('the chart has its columns', async () => (await place(cursor)) > 300)
    const last = await place(cursor)
    const newest = await reading(cursor)
    expect(newest).toMatch(/^\d+ \w+ \d{4}, \d\d:\d\d: pH \d\.\d\d \(\d\.\d\d to \d\.\d\d\)$/)
    await page.keyboard.press('ArrowLeft')
    expect(await place(cursor)).toBe(last - 1)
    expect(await reading(cursor)).not.toBe(newest)
    // The line beneath the charts says the same, of all of them.
    expect(await page.locator('.readout').innerText()).toContain('Moisture')
    await page.keyboard.press('Shift+ArrowLeft')
    expect(await place(cursor)).toBeLessThan(last - 20)
    await page.keyboard.press('Home')
    expect(await place(cursor)).toBe(0)
    await page.keyboard.press('End')
    expect(await place(cursor)).toBe(last)
    await page.keyboard.press('ArrowRight')
    expect(await place(cursor)).toBe(last)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  test('plus looks closer about the cursor, Escape goes back', async () => {
    const { page } = await open('/bed/1')
    const cursor = cursorOf(page, 'pH')
    await cursor.focus()
    await page.keyboard.press('ArrowLeft')
    await page.keyboard.press('+')
    await until('the address says so', () => askedDays(page))
    expect(askedDays(page)).toBeCloseTo(108.6, 0)
    await page.keyboard.press('+')
    await until('closer still', () => (askedDays(page) ?? 999) < 60)
    await page.keyboard.press('Escape')
    await until('back at the season', () => new URL(page.url()).search === '')
    await page.context().close()
  })

  test('every sign can be reached and read, one stop for all of them', async () => {
    const { page } = await open('/bed/1')
    const signs = page.getByRole('list', { name: 'pH: signs on the chart' }).getByRole('button')
    await signs.first().waitFor()
    const count = await signs.count()
    expect(count).toBeGreaterThan(15)
    const stops = signs.and(page.locator('[tabindex="0"]'))
    expect(await stops.count()).toBe(1)
    await cursorOf(page, 'pH').focus()
    await page.keyboard.press('Tab')
    const focused = page.locator(':focus')
    const told = page.locator('.plot-told')
    const first = await focused.getAttribute('aria-label')
    expect(first).toMatch(/^(Treatment|Watering|Change of the pH)/)
    expect(await told.innerText()).toBe(first)
    const seen = new Set([first])
    for (let i = 1; i < count; i++) {
      await page.keyboard.press('ArrowRight')
      seen.add(await focused.getAttribute('aria-label'))
    }
    expect(seen.size).toBe(count)
    expect([...seen].some((words) => /ground limestone, 400\sg/.test(words ?? ''))).toBe(true)
    expect(await stops.count()).toBe(1)
    await page.keyboard.press('Escape')
    expect(await told.count()).toBe(0)
    await page.keyboard.press('Home')
    expect(await focused.getAttribute('aria-label')).toBe(first)
    await page.context().close()
  })
})

test('one cursor for all charts of the page, where it lies within them', async () => {
  const { page } = await open('/bed/1')
  await page.getByRole('slider', { name: /^What lies ahead/ }).waitFor()
  const over = page.locator('#trend .u-over')
  await over.first().hover({ position: { x: 600, y: 100 } })
  const placed = (n: number): Promise<string> =>
    page.evaluate<string>(`document.querySelectorAll('#trend .u-cursor-x')[${n}].style.transform`)
  expect(await placed(0)).toMatch(/translate\((599|600)px/)
  expect(await placed(1)).toMatch(/translate\((599|600)px/)
  // The outlook reaches back three months: the middle of the season lies before them.
  const ahead = page.locator('.u-cursor-x').last()
  expect(await page.locator('.plot-reading').filter({ hasText: 'pH' }).count()).toBe(0)
  await over.first().hover({ position: { x: 860, y: 100 } })
  expect(await page.locator('.plot-reading').filter({ hasText: 'pH' }).count()).toBe(1)
  expect(await ahead.count()).toBe(1)
  await page.mouse.move(5, 5)
  expect(await page.locator('.readout').innerText()).toMatch(/^Point at a chart/)
  await page.context().close()
})

describe('zoom', () => {
  test('by wheel only with a modifier: without it the page scrolls', async () => {
    const { page } = await open('/bed/1')
    const over = page.locator('#trend .u-over').first()
    await over.hover({ position: { x: 400, y: 100 } })
    await page.mouse.wheel(0, 240)
    await until('the page has scrolled', async () => (await page.evaluate('scrollY')) !== 0)
    expect(askedDays(page)).toBeNull()
    // Chromium takes wheels that follow at once for the same scrolling.
    await page.waitForTimeout(700)
    await over.hover({ position: { x: 400, y: 100 } })
    const before = await page.evaluate('scrollY')
    await page.keyboard.down('Control')
    await page.mouse.wheel(0, -240)
    await page.keyboard.up('Control')
    await until('the chart has zoomed', () => askedDays(page))
    expect(askedDays(page)).toBeLessThan(200)
    expect(await page.evaluate('scrollY')).toBe(before)
    await page.context().close()
  })

  test('by touch: two fingers zoom, one finger moves what is zoomed, a double tap goes back', async () => {
    const { page } = await open('/bed/1', PHONE)
    const over = page.locator('#trend .u-over').first()
    await over.waitFor()
    await over.scrollIntoViewIfNeeded()
    await page.waitForTimeout(300)
    const box = (await over.boundingBox())!
    const y = box.y + box.height / 2
    const at = (part: number, dy = 0) => ({ x: box.x + part * box.width, y: y + dy })
    const fingers = await touch(page)

    await fingers.swipe([at(0.4), at(0.6)], [at(0.2), at(0.8)])
    await until('two fingers have zoomed', () => askedDays(page))
    await page.waitForTimeout(600)
    const days = askedDays(page)!
    expect(days).toBeGreaterThan(50)
    expect(days).toBeLessThan(100)
    const from = () => new URL(page.url()).searchParams.get('from')

    const before = from()!
    await fingers.swipe([at(0.3)], [at(0.8)])
    await until('one finger has moved it', () => from() !== before)
    await page.waitForTimeout(600)
    expect(askedDays(page)).toBeCloseTo(days, 0)
    expect(Date.parse(from()!)).toBeLessThan(Date.parse(before))

    // Both movements are one step each: back undoes the second alone.
    await page.getByRole('button', { name: 'Back', exact: true }).click()
    await until('the first is back', () => from() === before)

    await over.scrollIntoViewIfNeeded()
    const again = (await over.boundingBox())!
    const middle = { x: again.x + again.width / 2, y: again.y + again.height / 2 }
    await fingers.tap(middle)
    await fingers.tap(middle)
    await until('the double tap has gone back', () => askedDays(page) === null)
    await page.context().close()
  })

  test('a finger that goes up or down scrolls the page, in a zoomed chart too', async () => {
    const { page } = await open('/bed/1?from=2026-06-01T00:00&to=2026-07-01T00:00', PHONE)
    const over = page.locator('#trend .u-over').first()
    await over.waitFor()
    await over.scrollIntoViewIfNeeded()
    await page.waitForTimeout(300)
    const box = (await over.boundingBox())!
    const at = (dy: number) => ({ x: box.x + box.width / 2, y: box.y + box.height / 2 + dy })
    const before = Number(await page.evaluate('scrollY'))
    await (await touch(page)).swipe([at(80)], [at(-80)], 12)
    await until(
      'the page has scrolled',
      async () => Number(await page.evaluate('scrollY')) > before,
    )
    expect(askedDays(page)).toBeCloseTo(30, 5)
    await page.context().close()
  })

  test('what is shown stands in the address, and comes back with it', async () => {
    const { page } = await open('/bed/1')
    await page.getByRole('radio', { name: 'Week' }).check({ force: true })
    await until('the address says so', () => page.url().endsWith('?range=week'))
    await page.reload()
    expect(await page.getByRole('radio', { name: 'Week' }).isChecked()).toBe(true)
    await page.getByRole('button', { name: 'Earlier' }).click()
    await until('the address says so', () => askedDays(page))
    const address = page.url()
    const summary = await page.locator('#trend figcaption').first().innerText()
    await page.goto(`${hub.url}/`)
    await page.goto(address)
    await page
      .locator('#trend figcaption')
      .first()
      .getByText(/between/)
      .waitFor()
    expect(await page.locator('#trend figcaption').first().innerText()).toBe(summary)
    expect(page.url()).toBe(address)
    await page.context().close()
  })
})

describe('the numbers behind a chart', () => {
  test('are all there, of which those in sight are in the page; the file holds exactly these', async () => {
    const { page, complaints } = await open('/bed/1')
    await page.getByLabel('Each spot').check()
    const figure = page.locator('#trend figure').first()
    await figure.getByText('pH as numbers').click()
    const rows = figure.getByRole('row')
    const table = figure.getByRole('table')
    await table.waitFor()
    const total = Number(await table.getAttribute('aria-rowcount'))
    expect(total).toBeGreaterThan(380)
    expect(await rows.count()).toBeLessThan(80)
    expect(await table.getByRole('columnheader').allInnerTexts()).toEqual([
      'When',
      'Bed',
      '95 % interval',
      'Lowest and highest reading',
      'spot 1',
      'spot 2',
      'spot 3',
    ])
    const [arrived] = await Promise.all([
      page.waitForEvent('download'),
      figure.getByRole('button', { name: 'pH: download the table (CSV)' }).click(),
    ])
    expect(arrived.suggestedFilename()).toBe('bed-1-ph.csv')
    const text = readFileSync((await arrived.path())!, 'utf8')
    const records = parse(text, { columns: true }) as Record<string, string>[]
    expect(records).toHaveLength(total - 1)
    const shown = await rows.nth(1).getByRole('cell').allInnerTexts()
    expect(records[0]!['pH']).toBe(shown[0])
    expect(`${records[0]!['95 % interval from']} to ${records[0]!['95 % interval to']}`).toBe(
      shown[1],
    )
    expect(records[0]!['Time (Europe/Lisbon)']).toMatch(
      /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+0[01]:00$/,
    )
    expect(records.some((record) => record['spot 2: left out'] === 'left out')).toBe(true)

    await page.evaluate("document.querySelector('.figure-rows').scrollTo(0, 1e6)")
    await until(
      'the oldest row is in the page',
      async () => (await rows.last().getAttribute('aria-rowindex')) === String(total),
    )
    expect(complaints).toEqual([])
    await page.context().close()
  })

  test.each([
    ['light', 'light'],
    ['dark', 'dark'],
  ] as const)('a picture of it is on white, also on a %s screen', async (_, colorScheme) => {
    const { page } = await open('/bed/1', { ...WIDE, colorScheme })
    const figure = page.locator('#trend figure').first()
    await figure.getByText('pH as numbers').click()
    const [arrived] = await Promise.all([
      page.waitForEvent('download'),
      figure.getByRole('button', { name: 'pH: download the picture (PNG)' }).click(),
    ])
    expect(arrived.suggestedFilename()).toBe('bed-1-ph.png')
    const png = readFileSync((await arrived.path())!)
    if (SHOTS !== undefined) await arrived.saveAs(join(SHOTS, `picture-${colorScheme}.png`))
    expect(png.subarray(1, 4).toString()).toBe('PNG')
    expect(png.readUInt32BE(16)).toBe(1200)
    // What the picture holds, looked at by the browser: white at the edges, light on the whole, with ink in it.
    const seen = await page.evaluate<{
      corners: number[][]
      light: number
      dark: number
    }>(`(async () => {
      const bytes = Uint8Array.from(atob('${png.toString('base64')}'), (c) => c.charCodeAt(0))
      const image = await createImageBitmap(new Blob([bytes], { type: 'image/png' }))
      const canvas = new OffscreenCanvas(image.width, image.height)
      const ctx = canvas.getContext('2d')
      ctx.drawImage(image, 0, 0)
      const { data } = ctx.getImageData(0, 0, image.width, image.height)
      const at = (x, y) => [...data.slice(4 * (y * image.width + x), 4 * (y * image.width + x) + 3)]
      let [light, dark] = [0, 0]
      for (let i = 0; i < data.length; i += 4) {
        if (data[i] > 160) light++
        if (data[i] < 90) dark++
      }
      const [w, h] = [image.width - 1, image.height - 1]
      return { corners: [at(0, 0), at(w, 0), at(0, h), at(w, h)], light: light / data.length * 4, dark: dark / data.length * 4 }
    })()`)
    for (const corner of seen.corners) expect(corner).toEqual([255, 255, 255])
    expect(seen.light).toBeGreaterThan(0.85)
    expect(seen.dark).toBeGreaterThan(0.003)
    await page.context().close()
  })

  test('are there for a lane of the garden, too', async () => {
    const { page } = await open('/')
    const lane = page.locator('.lane').nth(1)
    await lane.getByText('as numbers').click()
    await lane.getByRole('table').waitFor()
    expect(await lane.getByRole('img').getAttribute('aria-label')).toMatch(
      /^pH of Bed 2: \d+ \w+ \d{4} to .* between \d\.\d\d and \d\.\d\d, at the end/,
    )
    await page.context().close()
  })
})

describe('every reading', () => {
  test('up to a month as dots, beyond from the lowest to the highest of each step', async () => {
    const { page } = await open('/bed/1')
    const asked: URL[] = []
    page.on('request', (request) => {
      if (request.url().includes('/series')) asked.push(new URL(request.url()))
    })
    await page.getByLabel('Every reading').check()
    await page.getByText(/from the lowest to the highest single reading/).waitFor()
    expect(asked.some(({ searchParams }) => searchParams.get('points') === '5000')).toBe(false)
    await page.getByRole('radio', { name: 'Week' }).check({ force: true })
    await until('single readings are asked for', () =>
      asked.some(
        ({ searchParams }) =>
          searchParams.get('points') === '5000' && searchParams.get('spots') === 'true',
      ),
    )
    expect(await page.getByText(/from the lowest to the highest single reading/).count()).toBe(0)
    await page.context().close()
  })
})

describe('a garden of fifty beds', () => {
  test('lanes are drawn when they come near, and all of them for paper', async () => {
    const { page, complaints } = await open('/')
    await page.locator('.lane').nth(49).waitFor({ state: 'attached' })
    await page.locator('.lane canvas').first().waitFor()
    await page.waitForTimeout(500)
    const drawn = await page.locator('.lane canvas').count()
    expect(drawn).toBeGreaterThan(4)
    expect(drawn).toBeLessThan(30)
    expect(await page.locator('.lane h2').count()).toBe(50)
    await page.evaluate('window.dispatchEvent(new Event("beforeprint"))')
    await until('all are drawn', async () => (await page.locator('.lane canvas').count()) === 50)
    expect(complaints).toEqual([])
    await page.context().close()
  })

  test('script and style of the first page are 60 kB gzip or less', async () => {
    const context = await browser.newContext(WIDE)
    const page = await context.newPage()
    const files = new Set<string>()
    page.on('request', (request) => {
      if (['script', 'stylesheet'].includes(request.resourceType())) files.add(request.url())
    })
    await page.goto(hub.url)
    await page.locator('.lane canvas').first().waitFor()
    // Before the worker begins with all the other pages.
    await page.waitForTimeout(1200)
    let bytes = 0
    for (const url of files) bytes += gzipSync(await (await fetch(url)).text(), { level: 9 }).length
    expect(files.size).toBeGreaterThan(1)
    expect(bytes).toBeGreaterThan(20_000)
    expect(bytes).toBeLessThanOrEqual(60_000)
    await context.close()
  })
})

test.each([
  ['wide-light', WIDE, 'light'],
  ['wide-dark', WIDE, 'dark'],
  ['phone-light', PHONE, 'light'],
  ['phone-dark', PHONE, 'dark'],
] as const)(
  '%s: axe finds nothing serious, nothing hangs over',
  async (name, size, colorScheme) => {
    const { page, complaints } = await open('/bed/1', { ...size, colorScheme })
    const figure = page.locator('#trend figure').first()
    await figure.getByText('pH as numbers').click()
    await figure.getByRole('table').waitFor()
    await page.getByRole('slider', { name: /^pH/ }).focus()
    await page.keyboard.press('Tab')
    await page.locator('.plot-told').waitFor()
    if (SHOTS !== undefined) {
      await page.screenshot({ path: join(SHOTS, `charts-${name}.png`), fullPage: true })
    }
    expect(await axeFaults(page)).toEqual([])
    expect(
      await page.evaluate('document.documentElement.scrollWidth - innerWidth'),
    ).toBeLessThanOrEqual(0)
    expect(complaints).toEqual([])
    await page.context().close()
  },
)
