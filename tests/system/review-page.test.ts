import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { PlanningSettingsView } from '#hub/api/schemas/planning.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { inventedTrials } from '../support/findings-fixture.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { readPdf } from '../support/pdf.ts'
import { inventedReview } from '../support/review-fixture.ts'
import { inventReview } from '../support/review-routes.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const WIDE = { width: 1280, height: 900 }
const PHONE = { width: 360, height: 780 }
/** What is left of a sheet between margins of 15 mm, CSS px at 96 to the inch. */
const SHEETS = [
  { format: 'A4', width: Math.floor(((210 - 30) / 25.4) * 96), points: [595, 842] },
  { format: 'Letter', width: Math.floor(((215.9 - 30) / 25.4) * 96), points: [612, 792] },
] as const
/** Where screenshots go when somebody wants to look at them. */
const SHOTS = process.env['SCREENSHOTS']

let hub: HubProcess
let browser: Browser
let long: BedView
let fern: BedView
const now = Date.now()
const dir = tempDir()

const bed = async (name: string): Promise<BedView> => {
  const made = await hub.send('POST', '/api/beds', {
    name,
    areaM2: 4.5,
    depthM: 0.3,
    texture: 'loam',
    crops: [],
    ownBand: { low: 6, high: 6.8 },
  })
  return (await made.json()) as BedView
}

beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  long = await bed('Long bed')
  fern = await bed('Fern bed')
  if (SHOTS !== undefined) mkdirSync(SHOTS, { recursive: true })
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

async function open(
  path: string,
  size: { readonly width: number; readonly height: number } = WIDE,
  scheme: 'light' | 'dark' = 'light',
) {
  const opened = await openPage(browser, 'about:blank', size)
  await opened.page.emulateMedia({ colorScheme: scheme })
  const { periods } = await inventReview(opened.page, [long, fern], now)
  opened.page.setDefaultTimeout(8000)
  await opened.page.route('**/api/trials', (route) =>
    route.request().method() === 'GET'
      ? route.fulfill({
          contentType: 'application/json',
          body: JSON.stringify(trials()),
        })
      : route.continue(),
  )
  await opened.page.goto(hub.url + path)
  return { ...opened, periods }
}

/** The invented ones, with the beds of this garden. */
const trials = () =>
  inventedTrials(now).map((trial) => ({
    ...trial,
    treated: [{ id: long.id, name: long.name }],
    untreated: [{ id: fern.id, name: fern.name }],
  }))

const part = (page: Page, name: string) => page.getByRole('region', { name, exact: true })
const settings = (): Promise<PlanningSettingsView> =>
  hub.get<PlanningSettingsView>('/api/planning-settings')
const sideways = (page: Page): Promise<number> =>
  page.evaluate<number>(
    'document.documentElement.scrollWidth - document.documentElement.clientWidth',
  )
async function picture(page: Page, name: string): Promise<void> {
  if (SHOTS === undefined) return
  await page.screenshot({ path: join(SHOTS, `${name}.png`), fullPage: true })
}

describe('the review', () => {
  test('every treatment with its numbers, its doubt, its cost and its reasons on demand', async () => {
    const { page, complaints } = await open('/review')
    const review = inventedReview(long, fern, now)
    const mine = part(page, 'Long bed')
    await mine.getByText(review.beds[0]!.sentence).waitFor()
    const rows = mine.locator('tr.figures')
    expect(await rows.nth(2).innerText()).toMatch(
      /ground limestone\s+.*900\sg\s+yes\s+9 days \(2 to 17\)\s+\+0\.71 ± 0\.12 pH\s+after 71 days \(52 to 98\)\s+236 days \(171 to 342\)\s+4\.6 ± 0\.9\s+€0\.17 \(€0\.14 to €0\.21\)/,
    )
    expect(await rows.nth(3).innerText()).toMatch(/640\sg, in 3 portions/)
    expect(await rows.nth(3).innerText()).toMatch(
      /at least 410 days; it has not turned far enough to say more\s+2\.1 \(at least 1\.4\)\s+€0\.042 \(at least €0\.031\)/,
    )
    expect(await rows.nth(1).innerText()).toMatch(
      /amount not written down\s+no\s+–\s+none larger than 0\.13 pH\s+–\s+–\s+–$/,
    )
    expect(await rows.nth(0).innerText()).toMatch(/not known\s+–\s+–/)
    const ground = mine.getByText('26 weekly values')
    expect(await ground.isVisible()).toBe(false)
    await mine.locator('details.why > summary').first().click()
    await ground.waitFor()
    expect(await mine.innerText()).toContain('next treatment due about June 2027')
    // A trial that is over is told with the beds it was in; one that runs is not.
    expect(await mine.innerText()).toContain('“wood ash sweetens the soil”: the claim is supported')
    expect(await mine.innerText()).not.toContain('pine needles make')
    const bare = part(page, 'Fern bed')
    expect(await bare.innerText()).toContain('Nothing was put on Fern bed yet.')
    expect(await bare.getByRole('table').count()).toBe(0)
    expect(complaints).toEqual([])
    await page.close()
  })

  test('plans that run say their next step, or that nothing more should go on', async () => {
    const { page, complaints } = await open('/review')
    const running = part(page, 'Plans that run')
    const limed = running.locator('[data-plan="1"]')
    await limed.waitFor()
    expect(await limed.innerText()).toMatch(/Portion 2 of 2: 430\sg, from \d+ \w+ \d+ on/)
    expect(await running.locator('[data-plan="2"]').innerText()).toContain('Nothing more is needed')
    expect(await limed.getByRole('link').getAttribute('href')).toBe(`/bed/${long.id}/plan`)
    expect(complaints).toEqual([])
    await page.close()
  })

  test('materials are compared in a table whose beds can be gone to', async () => {
    const { page, complaints } = await open('/review')
    const table = page.getByRole('table', { name: /^Peak in pH/ })
    await table.waitFor()
    expect(await table.innerText()).toContain('+0.71 (+0.59 to +0.84)')
    expect(await table.innerText()).toContain('at least 410 days')
    expect(await table.getByRole('link', { name: 'Gone bed' }).count()).toBe(0)
    await table.getByRole('link', { name: 'Fern bed' }).first().click()
    await page.getByRole('heading', { level: 1, name: 'Fern bed' }).waitFor()
    expect(complaints).toEqual([])
    await page.close()
  })

  test('a material of the table is put to the test, the form filled in as far as can be', async () => {
    const { page, complaints } = await open('/review')
    await page.getByRole('link', { name: /^Put this to the test.*wood ash$/ }).focus()
    await page.keyboard.press('Enter')
    const claim = page.getByRole('textbox', { name: 'What is claimed' })
    await claim.waitFor()
    expect(await claim.inputValue()).toBe('putting on wood ash raises the pH')
    expect(await page.getByRole('combobox', { name: 'What is put on' }).inputValue()).toBe(
      'wood ash',
    )
    expect(await page.getByRole('radio', { name: 'raises the pH' }).isChecked()).toBe(true)
    await until(
      'the form has the focus',
      async () =>
        (await page
          .locator(':focus')
          .and(page.getByRole('heading', { name: 'A claim put to the test' }))
          .count()) === 1,
    )
    await page.getByRole('button', { name: 'Cancel' }).click()
    await page.waitForURL(`${hub.url}/trials`)
    await page.getByRole('button', { name: 'Put a claim to the test' }).click()
    expect(await claim.inputValue()).toBe('')
    expect(complaints).toEqual([])
    await page.close()
  })

  test('a claim that is often heard is put to the test from the page of trials', async () => {
    const { page, complaints } = await open('/trials')
    await page.route('**/api/trials', (route) =>
      route.fulfill({ contentType: 'application/json', body: '[]' }),
    )
    await page.reload()
    await page.getByRole('link', { name: 'coffee grounds sour the soil' }).click()
    const claim = page.getByRole('textbox', { name: 'What is claimed' })
    await claim.waitFor()
    expect(await claim.inputValue()).toBe('putting on coffee grounds lowers the pH')
    await page.goBack()
    expect(complaints).toEqual([])
    await page.close()
  })

  test('from a bed to what a trial in it has shown', async () => {
    const { page, complaints } = await open('/review')
    await page.getByRole('link', { name: '“wood ash sweetens the soil”' }).first().click()
    await page.waitForURL(`${hub.url}/trials?trial=2`)
    const heading = page.getByRole('heading', { name: '“wood ash sweetens the soil”' })
    await until(
      'the trial has the focus',
      async () => (await page.locator(':focus').and(heading).count()) === 1,
    )
    expect(complaints).toEqual([])
    await page.close()
  })

  test('prices are kept by the hub, and what cannot be read stays beside its field', async () => {
    const before = { season: { from: '03-15', to: '11-05' }, currency: null, prices: [] }
    await hub.send('PUT', '/api/planning-settings', before)
    const { page, complaints } = await open('/review')
    const form = page.getByRole('form', { name: 'Prices' })
    const field = (name: string) => form.getByRole('textbox', { name, exact: true })
    await field('elemental sulfur').fill('dear')
    await form.getByRole('button', { name: 'Save the prices' }).click()
    await form.getByText("expected a number, got 'dear'").waitFor()
    expect(await settings()).toEqual(before)
    await field('elemental sulfur').fill('3,90')
    await form.getByRole('button', { name: 'Save the prices' }).click()
    await form.getByText('say in which money the prices are').waitFor()
    await field('Currency').fill('eur')
    await field('ground limestone').fill('0.85')
    await field('ground limestone').press('Enter')
    await form.getByText('Saved; the costs above are reckoned anew.').waitFor()
    const { season, currency, prices } = await settings()
    expect({ season, currency }).toEqual({ season: before.season, currency: 'EUR' })
    expect(prices.toSorted((a, b) => a.perKg - b.perKg)).toEqual([
      { material: 'ground-limestone', perKg: 0.85 },
      { material: 'sulfur', perKg: 3.9 },
    ])
    await page.reload()
    await until('the price stands in the form', async () => {
      await field('elemental sulfur').waitFor()
      return (await field('elemental sulfur').inputValue()) === '3.9'
    })
    // Emptied, a price is gone; the other stays.
    await field('elemental sulfur').fill('')
    await field('elemental sulfur').press('Enter')
    await until('one price is left', async () => (await settings()).prices.length === 1)
    expect(complaints).toEqual([])
    await page.close()
  })

  test('the calendar has an address to copy, and is there', async () => {
    const { page, complaints } = await open('/review')
    const section = part(page, 'The dates in your calendar')
    const address = section.getByRole('textbox', { name: 'Address of the calendar' })
    expect(await address.inputValue()).toBe(`${hub.url}/api/calendar.ics`)
    await page.context().grantPermissions(['clipboard-read', 'clipboard-write'])
    await section.getByRole('button', { name: 'Copy the address' }).click()
    await section.getByText('Copied.').waitFor()
    expect(await page.evaluate('navigator.clipboard.readText()')).toBe(
      `${hub.url}/api/calendar.ics`,
    )
    const href = await section.getByRole('link').getAttribute('href')
    const feed = await fetch(hub.url + href)
    expect(feed.headers.get('content-type')).toMatch(/^text\/calendar/)
    expect(await feed.text()).toMatch(/^BEGIN:VCALENDAR/)
    expect(complaints).toEqual([])
    await page.close()
  })

  test('without the clipboard the address is marked to be copied by hand', async () => {
    const { page } = await open('/review')
    await page.evaluate("Object.defineProperty(navigator, 'clipboard', { value: undefined })")
    const section = part(page, 'The dates in your calendar')
    await section.getByRole('button', { name: 'Copy the address' }).click()
    await section.getByText('It is marked now').waitFor()
    expect(await page.evaluate('getSelection().toString()')).toBe(`${hub.url}/api/calendar.ics`)
    await page.close()
  })

  test('the table of treatments can be fetched from where the link leads', async () => {
    const { page } = await open('/review')
    const href = await page
      .getByRole('link', { name: 'Treatments as a table (CSV)' })
      .getAttribute('href')
    const table = await fetch(hub.url + href)
    expect(table.headers.get('content-type')).toMatch(/^text\/csv/)
    await page.close()
  })
})

describe('the report', () => {
  test('asks for this year unless told otherwise, and for any days that are given', async () => {
    const { page, complaints, periods } = await open(`/bed/${long.id}/report`)
    await page.getByRole('heading', { level: 1, name: 'Report of Long bed' }).waitFor()
    await page.getByRole('heading', { name: 'Month by month' }).waitFor()
    const [first] = periods
    expect(new Date(first!.from).toISOString()).toMatch(/-01-01T00:00:00\.000Z$/)
    // To the end of today on the garden's clock.
    expect(first!.to).toBeGreaterThan(now)
    expect(first!.to - now).toBeLessThanOrEqual(86_400_000)
    const usual = page.getByRole('list', { name: 'Usual periods' })
    expect(await usual.getByRole('link', { name: 'This year' }).getAttribute('aria-current')).toBe(
      'page',
    )
    await usual.getByRole('link', { name: 'Last year' }).click()
    const year = new Date(now).getUTCFullYear() - 1
    await page.waitForURL(`${hub.url}/bed/${long.id}/report?from=${year}-01-01&to=${year}-12-31`)
    await page.getByText(`1 Jan ${year} to 31 Dec ${year} · made`).waitFor()

    await page.getByLabel('First day').fill('2024-05-01')
    await page.getByLabel('Last day').fill('2024-04-30')
    await page.getByRole('button', { name: 'Show this period' }).click()
    await page.getByText('the last day lies before the first').waitFor()
    await page.getByLabel('Last day').fill('2024-08-31')
    await page.getByLabel('Last day').press('Enter')
    await page.waitForURL(/from=2024-05-01&to=2024-08-31/)
    await page.getByText('1 May 2024 to 31 Aug 2024 · made').waitFor()
    // Lisbon is an hour ahead of UTC in summer.
    expect(periods.at(-1)).toEqual({
      from: Date.UTC(2024, 3, 30, 23),
      to: Date.UTC(2024, 7, 31, 23),
    })
    const csv = page.getByRole('link', { name: 'Table (CSV)' })
    expect(await csv.getAttribute('href')).toBe(
      `/api/beds/${long.id}/report.csv?from=${Date.UTC(2024, 3, 30, 23)}&to=${Date.UTC(2024, 7, 31, 23)}`,
    )
    await page.goBack()
    await page.getByText(`1 Jan ${year} to 31 Dec ${year} · made`).waitFor()
    expect(complaints).toEqual([])
    await page.close()
  })

  test('has the season, its months, what happened, samples, treatments and what next', async () => {
    const { page, complaints } = await open(`/bed/${long.id}/report?from=2025-01-01&to=2025-12-31`)
    const report = page.getByRole('article', { name: 'Long bed' })
    await report.getByText('Long bed rose by 0.38').waitFor()
    expect(await report.innerText()).toMatch(/Change, pH\s+\+0\.38 ± 0\.17 pH/)
    expect(await report.innerText()).toMatch(/Days in band\s+83\s% \(76 to 88\)/)
    const chart = report.getByRole('img', {
      name: /^pH of Long bed from 1 Jan 2025 to 31 Dec 2025/,
    })
    // A gap of three weeks breaks the line once.
    expect((await chart.locator('.season-line').getAttribute('d'))?.match(/M/g)).toHaveLength(2)
    const months = report.getByRole('table', { name: /by month/ })
    expect(await months.getByRole('row').count()).toBe(13)
    expect(await months.getByRole('row').nth(2).innerText()).toMatch(
      /Feb 2025\s+28\s+6\.06\s+5\.94\s+6\.18\s+21 of\s28\s+11\.6 °C\s+40 L/,
    )
    expect(await months.getByRole('row').nth(12).innerText()).toMatch(
      /Dec 2025\s+0\s+–\s+–\s+–\s+–/,
    )
    const text = await report.innerText()
    for (const words of ['38 mm of rain', 'laboratory', 'ground limestone', 'What next']) {
      expect(text).toContain(words)
    }
    expect(complaints).toEqual([])
    await page.close()
  })

  test('a wrong address is told, not guessed', async () => {
    const { page, periods } = await open('/report?from=2025-02-30&to=soon')
    await page.getByText('expected a day such as').first().waitFor()
    expect(await page.getByText("got '2025-02-30'").count()).toBe(1)
    expect(await page.getByText("got 'soon'").count()).toBe(1)
    expect(periods).toEqual([])
    await page.close()
  })

  test.each(SHEETS)(
    'on $format: nothing cut off, each bed on a page of its own, reasons opened',
    async ({ format, width, points }) => {
      for (const [name, path] of [
        ['garden', '/report?from=2025-01-01&to=2025-12-31'],
        ['bed', `/bed/${long.id}/report?from=2025-01-01&to=2025-12-31`],
      ] as const) {
        const { page, complaints } = await open(path, { width, height: 1000 }, 'dark')
        await page.getByText('What next').first().waitFor()
        await page.emulateMedia({ media: 'print', colorScheme: 'dark' })
        expect(await sideways(page), `${name} is wider than the sheet`).toBeLessThanOrEqual(0)
        for (const gone of ['nav', 'form', 'button', '.button', '.links']) {
          expect(await page.locator(`${gone}:visible`).count(), gone).toBe(0)
        }
        // Dark ink on white, whatever the screen was.
        expect(
          await page.evaluate('getComputedStyle(document.documentElement).backgroundColor'),
        ).toBe('rgb(255, 255, 255)')
        expect(
          await page.getByText('season taken off with one yearly wave').first().isVisible(),
        ).toBe(true)
        await picture(page, `print-${name}-${format}`)
        const made = await page.pdf({
          format,
          outline: true,
          tagged: true,
          ...(SHOTS === undefined ? {} : { path: join(SHOTS, `report-${name}-${format}.pdf`) }),
        })
        const pdf = readPdf(made)
        expect(pdf.sizes.every(([w, h]) => w === points[0] && h === points[1])).toBe(true)
        expect(complaints).toEqual([])
        const pageOf = (title: string): number | undefined =>
          pdf.outline.find((entry) => entry.title === title)?.page
        if (name === 'garden') {
          expect(pageOf('All beds')).toBe(0)
          expect(pdf.text[0]).toMatch(/Longbed.*Fernbed/)
          expect(pdf.text[0]).not.toContain('Monthbymonth')
          expect(pageOf('Long bed')).toBe(1)
          // The second bed follows on a fresh page.
          expect(pageOf('Fern bed')).toBeGreaterThan(pageOf('Long bed')!)
          expect(pdf.sizes.length).toBeLessThanOrEqual(7)
        } else {
          expect(pageOf('Report of Long bed')).toBe(0)
          expect(pdf.sizes.length).toBeLessThanOrEqual(3)
          const all = pdf.text.join('')
          for (const words of [
            'Jan202528',
            '38mmofrain',
            'laboratory6.35',
            '€0.17(€0.14to€0.21)',
            'seasontakenoffwithoneyearlywave',
            'nexttreatmentdueabout',
          ]) {
            expect(all).toContain(words)
          }
          // A table that goes on has its head again, and no head stands without a row.
          for (const text of pdf.text) {
            const treated = /(elementalsulfur|pineneedles|groundlimestone|woodash)\d/.test(text)
            expect(/PutonWorkedBegan/.test(text), text).toBe(treated)
            expect(text).not.toMatch(/DayHowpH$/)
          }
        }
        expect(pdf.outline.map(({ title }) => title)).toEqual(
          expect.arrayContaining(['Month by month', 'Treatments looked back on', 'What next']),
        )
        await page.close()
      }
    },
    60_000,
  )
})

test('the growing season is settled by own dates, over the turn of the year too', async () => {
  const prices = [{ material: 'sulfur', perKg: 3.9 }]
  await hub.send('PUT', '/api/planning-settings', { season: null, currency: 'EUR', prices })
  const { page, complaints } = await open('/settings')
  const form = page.getByRole('form', { name: 'Planning' })
  await form.getByText('by dates of my own').click()
  await form.getByRole('textbox', { name: 'First day' }).fill('31')
  await form.getByRole('button', { name: 'Save' }).click()
  await form.getByText("expected a day from 1 to 30, got '31'").waitFor()
  await form.getByRole('textbox', { name: 'First day' }).fill('1')
  const [first, last] = [
    form.getByRole('combobox', { name: 'Month of the first day' }),
    form.getByRole('combobox', { name: 'Month of the last day' }),
  ]
  await first.selectOption({ label: 'October' })
  await last.selectOption({ label: 'April' })
  await form.getByRole('textbox', { name: 'Last day' }).fill('30')
  await form.getByRole('button', { name: 'Save' }).click()
  await form.getByText('Saved.').waitFor()
  expect(await settings()).toEqual({
    season: { from: '10-01', to: '04-30' },
    currency: 'EUR',
    prices,
  })
  // Prices without a currency are refused by the hub, beside the field.
  await form.getByRole('textbox', { name: 'Currency of prices' }).fill('')
  await form.getByRole('button', { name: 'Save' }).click()
  await form.getByText('prices need a currency').waitFor()
  await form.getByRole('textbox', { name: 'Currency of prices' }).fill('EUR')
  await form.getByText("by the soil's own warmth").click()
  await form.getByRole('button', { name: 'Save' }).click()
  await until('by the soil again', async () => (await settings()).season === null)
  // The browser itself says in its console that a request was refused.
  expect(complaints.filter((text) => !text.includes('400'))).toEqual([])
  await page.close()
})

describe.each([WIDE, PHONE])('at $width px', (size) => {
  test.each(['light', 'dark'] as const)(
    'no page scrolls sideways, everything opened, %s',
    async (scheme) => {
      for (const [name, path, ready] of [
        ['review', '/review', 'Long bed: next treatment due'],
        ['report', '/report?from=2025-01-01&to=2025-12-31', 'What next'],
        ['bed-report', `/bed/${long.id}/report?from=2025-01-01&to=2025-12-31`, 'What next'],
        ['settings', '/settings', 'The growing season goes'],
        ['trials', '/trials?material=wood+ash&direction=raises', 'How it was planned'],
      ] as const) {
        const { page, complaints } = await open(path, size, scheme)
        await page.getByText(ready).first().waitFor()
        if (name === 'review') await page.getByRole('form', { name: 'Prices' }).waitFor()
        if (name === 'trials') await page.getByRole('form', { name: 'New trial' }).waitFor()
        await page.evaluate(
          "document.querySelectorAll('main details').forEach((d) => { d.open = true })",
        )
        if (name === 'settings') await page.getByText('by dates of my own').click()
        expect(await sideways(page), `${path} scrolls sideways`).toBeLessThanOrEqual(0)
        const levels = await page.evaluate<number[]>(
          "[...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map((h) => Number(h.tagName[1]))",
        )
        levels.slice(1).forEach((level, i) => expect(level - levels[i]!).toBeLessThanOrEqual(1))
        const bare = await page.evaluate<number>(
          "[...document.querySelectorAll('main table')].filter((t) => !(t.caption && t.caption.textContent)).length",
        )
        expect(bare, `${path} has a table without a caption`).toBe(0)
        expect(complaints, path).toEqual([])
        await picture(page, `${name}-${size.width}-${scheme}`)
        await page.close()
      }
    },
    60_000,
  )
})
