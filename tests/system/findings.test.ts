import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { Entry } from '#hub/api/schemas/journal.ts'
import type { Trial, TrialInput, TrialPlan } from '#hub/api/schemas/trial.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import {
  inventedFindings,
  inventedPlan,
  inventedTrials,
  rareFindings,
} from '../support/findings-fixture.ts'
import { inventFindings } from '../support/findings-routes.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const DAY = 86_400_000
const WIDE = { width: 1280, height: 900 }
const PHONE = { width: 360, height: 780 }
/** Where screenshots go when somebody wants to look at them. */
const SHOTS = process.env['SCREENSHOTS']

let hub: HubProcess
let browser: Browser
let long: BedView
let fern: BedView
let limed: Entry
const now = Date.now()
const dir = tempDir()

const bed = async (name: string, spots: readonly string[]): Promise<BedView> => {
  const made = await hub.send('POST', '/api/beds', {
    name,
    areaM2: 4.5,
    depthM: 0.3,
    texture: 'loam',
    crops: [],
    ownBand: { low: 6, high: 6.8 },
  })
  const { id } = (await made.json()) as BedView
  for (const spot of spots) await hub.send('POST', `/api/beds/${id}/spots`, { name: spot })
  return hub.get<BedView>(`/api/beds/${id}`)
}

beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  long = await bed('Long bed', ['north end', 'middle', 'south end'])
  fern = await bed('Fern bed', ['middle'])
  const written = await hub.send('POST', `/api/beds/${long.id}/journal`, {
    kind: 'treatment',
    at: now - 260 * DAY,
    material: 'ground limestone',
    amountG: 900,
  })
  limed = (await written.json()) as Entry
  if (SHOTS !== undefined) mkdirSync(SHOTS, { recursive: true })
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

const invented = (id: number) =>
  id === long.id ? inventedFindings(id, now) : rareFindings(id, now)

async function open(
  path: string,
  size: { readonly width: number; readonly height: number } = WIDE,
): Promise<{ page: Page; complaints: readonly string[] }> {
  const opened = await openPage(browser, 'about:blank', size)
  await inventFindings(opened.page, invented, now)
  opened.page.setDefaultTimeout(8000)
  await opened.page.goto(hub.url + path)
  return opened
}

const inventTrials = (page: Page) =>
  page.route('**/api/trials', (route) =>
    route.fulfill({ contentType: 'application/json', body: JSON.stringify(inventedTrials(now)) }),
  )

const part = (page: Page, name: string) => page.getByRole('region', { name, exact: true })

/** Presses Tab until the wanted button, link or summary has the focus. */
async function tabTo(
  page: Page,
  wanted: ReturnType<Page['locator']>,
  key: 'Tab' | 'Shift+Tab' = 'Tab',
): Promise<void> {
  await wanted.waitFor()
  const focused = page.locator(':focus').and(wanted)
  for (let presses = 0; presses < 120; presses++) {
    if ((await focused.count()) > 0) return
    await page.keyboard.press(key)
  }
  throw new Error(`${String(wanted)} cannot be reached with the keyboard`)
}

describe('a bed about which much is known', () => {
  test('every question has its sentence, its numbers with their doubt, and its reasons on demand', async () => {
    const { page, complaints } = await open(`/bed/${long.id}`)
    const findings = invented(long.id)
    const changed = part(page, 'What changed')
    await changed.getByText(findings.events[0]!.sentence).waitFor()
    expect(await changed.innerText()).toContain('−0.62 ± 0.19')
    expect(await changed.innerText()).toMatch(/most likely one probe alone, provisional until/)
    expect(await changed.innerText()).toContain('+1.08 of it now')
    expect(await changed.innerText()).toMatch(/back where it was since/)
    const ground = changed.getByText(findings.events[0]!.grounds[0]!)
    expect(await ground.isVisible()).toBe(false)
    await changed.locator('details.why > summary').first().click()
    await ground.waitFor()
    const moves = changed.getByRole('table', { name: 'Spot by spot, pH' }).first()
    expect(await moves.getByRole('row').nth(3).innerText()).toMatch(
      /south end.*6\.35.*5\.73.*−0\.62.*moved/s,
    )
    expect(await moves.getByRole('row').nth(1).innerText()).toMatch(/north end.*stayed/s)

    const drift = await part(page, 'Slow drift').innerText()
    expect(drift).toContain('laboratory 1:1 lie 0.21 pH below the probes')
    expect(drift).toContain('−0.11 ± 0.08, falling')
    expect(drift).toContain('swings by 0.21, highest about 10 February')
    expect(drift).toMatch(/fern3\s+\+0\.21 ± 0\.12\s+electrode drifts/)

    const effects = part(page, 'What amendments did')
    const limestone = effects.locator(`[data-effect="1"]`)
    expect(await limestone.innerText()).toContain('+0.71 ± 0.12')
    expect(await limestone.innerText()).toContain('236 days (171 to 342)')
    expect(await limestone.innerText()).toContain('at least 410 days')
    expect(await limestone.locator('canvas').count()).toBe(2)
    expect(await effects.locator(`[data-effect="2"]`).innerText()).toMatch(
      /No measurable effect\s+larger than 0\.13 pH/,
    )

    const ahead = part(page, 'What lies ahead')
    expect(await ahead.innerText()).toMatch(/in 30 days 2\s%, in 90 days 12\s%/)
    expect(await ahead.innerText()).toMatch(/83 % \(76 to 88\)/)
    await ahead.getByText('What lies ahead as numbers').click()
    // A row for each day of the fan, of which those in sight are in the page.
    const days = ahead.getByRole('table', { name: 'pH of the bed as it may come' })
    await days.waitFor()
    expect(Number(await days.getAttribute('aria-rowcount'))).toBeGreaterThan(20)

    const water = await part(page, 'Water').innerText()
    expect(water).toContain('11 ± 3 mm to field capacity; the crops feel it from 18 mm')
    expect(water).toContain('51 ± 14 L')
    expect(water).toContain('learned from 14 wettings')
    expect(await part(page, 'How many spots').innerText()).toMatch(/south end, by −0\.28/)
    const fared = part(page, 'How the readings fared')
    await fared.getByRole('table').waitFor()
    expect(await fared.innerText()).toMatch(/kettle2 \(South end\) lost 17 % of its hours/)
    expect(complaints).toEqual([])
    await page.close()
  }, 30_000)

  test('headings go down one step at a time, and every table has a caption', async () => {
    const { page } = await open(`/bed/${long.id}`)
    await part(page, 'How many spots').waitFor()
    const levels = await page.evaluate<number[]>(
      "[...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map((h) => Number(h.tagName[1]))",
    )
    expect(levels[0]).toBe(1)
    expect(levels.length).toBeGreaterThan(12)
    levels.slice(1).forEach((level, i) => expect(level - levels[i]!).toBeLessThanOrEqual(1))
    const nowhere = await page.evaluate<string[]>(
      "[...document.querySelectorAll('.jump a')].map((a) => a.getAttribute('href')).filter((href) => document.querySelector(href) === null)",
    )
    expect(nowhere).toEqual([])
    const bare = await page.evaluate<number>(
      "[...document.querySelectorAll('main table')].filter((t) => !(t.caption && t.caption.textContent)).length",
    )
    expect(bare).toBe(0)
    await page.close()
  })

  test('by keyboard: an event is lit, opened, shown on the chart, and leads to its journal entry', async () => {
    const { page, complaints } = await open(`/bed/${long.id}`)
    const event = page.locator('[data-event="ramp-lime-3"]')
    await tabTo(page, page.getByRole('button', { name: 'Show all 6 changes' }))
    await page.keyboard.press('Enter')
    await event.waitFor()
    // The list comes before the button that lengthened it.
    await tabTo(page, event.locator('summary'), 'Shift+Tab')
    expect(await event.getAttribute('class')).toContain('lit')
    await page.keyboard.press('Enter')
    await event.getByText('When it was noticed it looked like the soil itself.').waitFor()

    const caption = page.getByTestId('bed-charts').locator('figcaption').first()
    const before = await caption.innerText()
    await event.getByRole('button', { name: /^Show on the chart/ }).focus()
    await page.keyboard.press('Enter')
    await until('the chart shows another time', async () => (await caption.innerText()) !== before)
    // The cursor stands at the change itself, within what a pixel of four weeks is worth.
    const read = page.locator('.readout strong')
    const onset = invented(long.id).events.find(({ id }) => id === 'ramp-lime-3')!.onset
    await until('the cursor is at the change', async () => {
      if ((await read.count()) === 0) return false
      const at = Date.parse(`${await read.innerText()} UTC`)
      return Math.abs(at - onset) < 4 * 3_600_000
    })
    const back = page.getByRole('button', { name: 'Back', exact: true })
    await back.click()
    await until('the chart is back', async () => (await caption.innerText()) === before)

    // The entry lies outside of the time shown: the page goes there and gives it the focus.
    await event.getByRole('button', { name: /^Journal entry/ }).focus()
    await page.keyboard.press('Enter')
    const line = page.locator(`[data-entry="${limed.id}"] button.entry-line`)
    await until(
      'the entry has the focus',
      async () => (await page.locator(':focus').and(line).count()) === 1,
    )
    expect(complaints).toEqual([])
    await page.close()
  }, 30_000)

  test('looking ahead lengthens the chart, and is taken back', async () => {
    const { page, complaints } = await open(`/bed/${long.id}`)
    const caption = page.getByTestId('bed-charts').locator('figcaption').first()
    const box = page.getByRole('checkbox', { name: 'Look ahead' })
    await box.waitFor()
    const before = await caption.innerText()
    await box.check()
    await until('a later end', async () => (await caption.innerText()) !== before)
    await box.uncheck()
    await until('as before', async () => (await caption.innerText()) === before)
    expect(complaints).toEqual([])
    await page.close()
  })

  test("in the gardener's units", async () => {
    const garden = await hub.get<object>('/api/garden')
    await hub.send('PUT', '/api/garden', { ...garden, units: 'us' })
    try {
      const { page } = await open(`/bed/${long.id}`)
      const water = part(page, 'Water')
      await water.waitFor()
      expect(await water.innerText()).toMatch(/0\.45 ± 0\.13 in to field capacity/)
      expect(await water.innerText()).toMatch(/13\.6 ± 3\.8 gal|14 ± 4 gal/)
      await page.close()
    } finally {
      await hub.send('PUT', '/api/garden', garden)
    }
  })
})

test('a young bed with one spot under water says what it cannot say', async () => {
  const { page, complaints } = await open(`/bed/${fern.id}`)
  const changed = part(page, 'What changed')
  await changed.getByText(/^Not enough yet/).waitFor()
  expect(await changed.innerText()).toContain(
    'soil or electrode, one spot cannot tell, provisional',
  )
  expect(await part(page, 'Slow drift').innerText()).toContain(
    'Not enough yet. There is: 23 days of one spot. Needed: 65 weeks',
  )
  expect(await part(page, 'What amendments did').innerText()).toContain('nothing to follow')
  expect(await part(page, 'What lies ahead').locator('canvas').count()).toBe(0)
  expect(await part(page, 'Water').innerText()).toContain('waterlogged')
  expect(await part(page, 'How many spots').innerText()).toMatch(/For ± 0\.2 pH\s+4 spots/)
  expect(complaints).toEqual([])
  await page.close()
})

test('a lane of the garden marks the newest change that is still there, with its cause', async () => {
  const { page, complaints } = await open('/')
  const lane = (bed: BedView) => page.locator(`.lane[data-bed="${bed.id}"] [data-event]`)
  await lane(long).waitFor()
  expect(await lane(long).getAttribute('data-event')).toBe('step-fern3-2')
  expect(await lane(long).innerText()).toMatch(/changed .*: one probe alone, provisional/s)
  expect(await lane(fern).innerText()).toContain('one spot cannot tell')
  expect(complaints).toEqual([])
  await page.close()
})

describe('claims on trial', () => {
  test('by keyboard: stated, planned while it is filled in, started, given up, removed', async () => {
    const { page, complaints } = await open('/trials')
    await tabTo(page, page.getByRole('button', { name: 'Put a claim to the test' }))
    await page.keyboard.press('Enter')
    await tabTo(page, page.getByRole('textbox', { name: 'What is claimed' }))
    await page.keyboard.type('coffee grounds sour the soil')
    await tabTo(page, page.getByRole('combobox', { name: 'What is put on' }))
    await page.keyboard.type('coffee grounds')
    const effect = page.getByRole('textbox', { name: 'Least effect that matters' })
    await tabTo(page, effect)
    await effect.fill('0.4')
    // A row of choices is one stop; the arrows choose. It stands on 'left out'.
    await tabTo(page, page.getByRole('group', { name: 'Long bed' }).getByRole('radio').nth(2))
    await page.keyboard.press('ArrowRight')
    await page.keyboard.press('Tab')
    await page.keyboard.press('ArrowLeft')
    const input: TrialInput = {
      claim: 'coffee grounds sour the soil',
      material: 'coffee grounds',
      direction: 'lowers',
      leastEffect: 0.4,
      treated: [long.id],
      untreated: [fern.id],
      startsAt: Date.now(),
      days: 120,
    }
    const answer = await hub.send('POST', '/api/trials/plan', input)
    const { sentence } = (await answer.json()) as TrialPlan
    await page.getByTestId('plan').getByText(sentence).waitFor()
    expect(await page.getByText('Before you treat the bed').count()).toBe(1)
    await tabTo(page, page.getByRole('button', { name: 'Start the trial' }))
    await page.keyboard.press('Enter')
    const stored = await until(
      'it is stored',
      async () => (await hub.get<Trial[]>('/api/trials'))[0],
    )
    const { days, ...claimed } = input
    expect(stored).toMatchObject({
      ...claimed,
      startsAt: stored.startsAt,
      endsAt: stored.startsAt + days * DAY,
      treated: [{ id: long.id, name: 'Long bed' }],
      untreated: [{ id: fern.id, name: 'Fern bed' }],
    })
    // The form knows minutes.
    expect(Math.abs(stored.startsAt - input.startsAt)).toBeLessThan(120_000)
    const mine = page.locator(`[data-trial="${stored.id}"]`)
    await mine.getByText(stored.result.sentence).waitFor()
    // What had the focus went away with the form: it is back on what opened it.
    const opener = page.getByRole('button', { name: 'Put a claim to the test' })
    await until(
      'the focus is back',
      async () => (await page.locator(':focus').and(opener).count()) === 1,
    )
    await mine.getByRole('button', { name: 'Give up' }).click()
    await mine.getByRole('button', { name: 'Yes, give up' }).click()
    await mine
      .getByText(/given up/)
      .first()
      .waitFor()
    expect((await hub.get<Trial[]>('/api/trials'))[0]!.givenUpAt).not.toBeNull()
    expect(await mine.getByRole('button', { name: 'Give up' }).count()).toBe(0)
    await mine.getByRole('button', { name: 'Remove' }).click()
    await mine.getByRole('button', { name: 'Yes, remove' }).click()
    await mine.waitFor({ state: 'detached' })
    expect(await hub.get<Trial[]>('/api/trials')).toEqual([])
    expect(complaints).toEqual([])
    await page.close()
  }, 40_000)

  test('the plan answers in numbers while the form is filled in', async () => {
    const { page, complaints } = await open('/trials')
    await page.route('**/api/trials/plan', (route) => {
      const { leastEffect } = route.request().postDataJSON() as TrialInput
      return route.fulfill({
        contentType: 'application/json',
        body: JSON.stringify(inventedPlan({ sentence: `For ${leastEffect} pH it takes 98 days.` })),
      })
    })
    await page.getByRole('button', { name: 'Put a claim to the test' }).click()
    const plan = page.getByTestId('plan')
    await plan.getByText('Name at least one treated and one untreated bed').waitFor()
    await page
      .getByRole('group', { name: 'Long bed' })
      .getByText('treated', { exact: true })
      .click()
    await page.getByRole('group', { name: 'Fern bed' }).getByText('untreated').click()
    await plan.getByText('For 0.3 pH it takes 98 days.').waitFor()
    await page.getByRole('textbox', { name: 'Least effect that matters' }).fill('0.5')
    await plan.getByText('For 0.5 pH it takes 98 days.').waitFor()
    expect(await plan.innerText()).toMatch(/Beds needed in 120 days\s+2 on each side/)
    expect(await plan.innerText()).toMatch(/Spots needed\s+3 in each bed/)
    expect(await plan.getByRole('row').nth(3).innerText()).toMatch(/120 days\s+0\.27/)
    expect(complaints).toEqual([])
    await page.close()
  })

  test('a verdict comes with its interval, and says when somebody looked early', async () => {
    const { page, complaints } = await open('/trials')
    await inventTrials(page)
    await page.reload()
    const early = page.locator('[data-trial="1"]')
    await early.waitFor()
    // While it runs nothing is shown of what was seen, unless somebody asks.
    expect(await early.innerText()).toMatch(/it runs: not before \d+ \w+ \d+\s+96 of 120 days/)
    expect(await early.innerText()).not.toMatch(/no measurable effect|−0\.02|0\.13/i)
    await tabTo(page, early.getByRole('button', { name: /^Look early all the same/ }))
    await page.keyboard.press('Enter')
    await early.getByText('looked at before its planned end').first().waitFor()
    expect(await early.innerText()).toContain(
      'no measurable effect · looked at before its planned end',
    )
    expect(await early.innerText()).toMatch(/No measurable effect\s+larger than 0\.13 pH/)
    expect(await early.innerText()).toContain('−0.02 ± 0.11 pH')
    await early.getByRole('button', { name: /^Put it away again/ }).click()
    expect(await early.innerText()).not.toContain('−0.02')
    const done = page.locator('[data-trial="2"]')
    expect(await done.innerText()).toMatch(/the claim is supported/)
    expect(await done.innerText()).toContain('+0.47 (+0.31 to +0.66) pH')
    expect(await done.innerText()).not.toContain('planned end')
    expect(await done.getByRole('button', { name: 'Give up' }).count()).toBe(0)
    expect(complaints).toEqual([])
    await page.close()
  })

  test('what cannot be sent is told beside its field', async () => {
    const { page } = await open('/trials')
    await page.getByRole('button', { name: 'Put a claim to the test' }).click()
    await page.getByRole('button', { name: 'Start the trial' }).click()
    const claim = page.getByRole('textbox', { name: 'What is claimed' })
    await until(
      'the claim is marked',
      async () => (await claim.getAttribute('aria-invalid')) === 'true',
    )
    await page.getByText('name at least one treated bed; name at least one untreated bed').waitFor()
    await page.close()
  })
})

describe.each([WIDE, PHONE])('at $width px', (size) => {
  test.each(['light', 'dark'] as const)(
    'no page scrolls sideways, everything opened, %s',
    async (scheme) => {
      for (const path of [`/bed/${long.id}`, `/bed/${fern.id}`, '/trials', '/']) {
        const { page, complaints } = await open(path, size)
        await page.emulateMedia({ colorScheme: scheme })
        await page.route('**/api/trials', (route) =>
          route.fulfill({
            contentType: 'application/json',
            body: JSON.stringify(inventedTrials(now)),
          }),
        )
        await page.reload()
        await page.locator('main h1').first().waitFor()
        if (path.startsWith('/bed/')) await part(page, 'How many spots').waitFor()
        await page.waitForLoadState('load')
        await page.evaluate(
          "document.querySelectorAll('main details').forEach((d) => { d.open = true })",
        )
        const sideways = await page.evaluate(
          'document.documentElement.scrollWidth - document.documentElement.clientWidth',
        )
        expect(sideways, `${path} scrolls sideways`).toBeLessThanOrEqual(0)
        expect(complaints, path).toEqual([])
        if (SHOTS !== undefined) {
          const name = path === '/' ? 'garden' : path.slice(1).replaceAll('/', '-')
          await page.screenshot({
            path: join(SHOTS, `found-${name}-${size.width}-${scheme}.png`),
            fullPage: true,
          })
        }
        await page.close()
      }
    },
    60_000,
  )
})
