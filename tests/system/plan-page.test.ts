import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { Entry } from '#hub/api/schemas/journal.ts'
import type { Decision, StageInput } from '#hub/api/schemas/planning.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { ASKS, inventedDecision, inventedPlan, undecided } from '../support/planning-fixture.ts'
import { inventPlanning } from '../support/planning-routes.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const WIDE = { width: 1280, height: 900 }
const PHONE = { width: 360, height: 780 }
/** Where screenshots go when somebody wants to look at them. */
const SHOTS = process.env['SCREENSHOTS']

let hub: HubProcess
let browser: Browser
let bed: BedView
let limed: Entry
const now = Date.now()
const dir = tempDir()

beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  const made = await hub.send('POST', '/api/beds', {
    name: 'Long bed',
    areaM2: 4.5,
    depthM: 0.3,
    texture: 'loam',
    crops: [],
    ownBand: { low: 6, high: 6.8 },
  })
  bed = (await made.json()) as BedView
  await hub.send('POST', `/api/beds/${bed.id}/spots`, { name: 'middle' })
  const written = await hub.send('POST', `/api/beds/${bed.id}/journal`, {
    kind: 'treatment',
    at: now - 3_600_000,
    material: 'ground limestone',
    amountG: 610,
  })
  limed = (await written.json()) as Entry
  if (SHOTS !== undefined) mkdirSync(SHOTS, { recursive: true })
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

async function open(
  decision: Decision,
  path = `/bed/${bed.id}/plan`,
  size: { readonly width: number; readonly height: number } = WIDE,
) {
  const opened = await openPage(browser, 'about:blank', size)
  const invented = await inventPlanning(opened.page, decision, now, limed.id)
  opened.page.setDefaultTimeout(8000)
  await opened.page.goto(hub.url + path)
  return { ...opened, ...invented }
}

const part = (page: Page, name: string | RegExp) => page.getByRole('region', { name })
const running = (): Decision => ({
  ...inventedDecision(bed.id, now),
  running: inventedPlan(bed.id, now),
})

describe('a bed that needs something', () => {
  test('the answer is at the top, beside its strip with a text alternative', async () => {
    const { page, complaints } = await open(inventedDecision(bed.id, now))
    await page.getByRole('heading', { level: 1, name: 'Raise it by 0.6', exact: true }).waitFor()
    const strip = page.getByRole('img', { name: /^The bed: pH 5\.62 ± 0\.21; its band: 6\.0/ })
    expect(await strip.locator('.published').count()).toBe(3)
    const box = (await strip.boundingBox())!
    expect(box.y + box.height).toBeLessThan(WIDE.height / 2)
    await page.getByText('Who publishes which band').click()
    const rows = page.getByRole('table', { name: /^For Carrot and Lettuce/ }).getByRole('row')
    expect(await rows.nth(2).innerText()).toMatch(/Carrot, said of its group\s+from 6\.0/)
    expect(await page.title()).toBe('Plan: Long bed · Loamline')
    expect(complaints).toEqual([])
    await page.close()
  })

  test('materials in their order, with the dose on the bed, its arithmetic, and why not', async () => {
    const { page, complaints } = await open(inventedDecision(bed.id, now))
    const materials = part(page, 'With what')
    const lime = materials.locator('[data-material="ground-limestone"]')
    await lime.waitFor()
    expect(await lime.innerText()).toMatch(/1\.69\s+kg\s+\(1\.18 to 3\.21\s+kg\)/)
    expect(await lime.innerText()).toMatch(/376\s+g\/m²\s+\(263 to 714\s+g\/m²\)/)
    expect(
      await materials.locator('[data-material]').evaluateAll((rows) =>
        // oxlint-disable-next-line typescript/no-unsafe-type-assertion -- elements of the page
        (rows as unknown as { dataset: { material: string } }[]).map((r) => r.dataset.material),
      ),
    ).toEqual(['ground-limestone', 'wood-ash', 'sulfur'])
    await materials
      .getByText(/^Why so much, and what else holds \(1\)/)
      .first()
      .click()
    await materials.getByText('From pH 5.6 to 6.2: 0.58 pH.').waitFor()
    expect(await materials.locator('[data-material="wood-ash"]').innerText()).toContain(
      'not before',
    )
    await materials.getByText('Not for this bed: elemental sulfur').click()
    await materials
      .getByText('Long bed is too acid: sulfur would make it worse.', { exact: true })
      .waitFor()
    expect(complaints).toEqual([])
    await page.close()
  })

  test('a plan is drawn up by the label, with cautions before the button, and kept', async () => {
    const { page, complaints, sent } = await open(inventedDecision(bed.id, now))
    await page.getByRole('button', { name: /^Plan with it.*ground limestone$/ }).click()
    const portions = part(page, 'In portions, with ground limestone')
    await portions.getByText(/worth 0\.9 g of lime/).waitFor()
    await portions.getByRole('textbox', { name: /calcium carbonate equivalent/ }).fill('80')
    await portions.getByText(/worth 0\.8 g of lime/).waitFor()
    const table = portions.getByRole('table', { name: 'Portions of ground limestone' })
    expect(await table.getByRole('row').count()).toBe(3)
    expect(await table.getByRole('row').nth(1).innerText()).toMatch(/900\s+g.*\+0\.21 to \+0\.56/s)
    const keep = portions.getByRole('button', { name: 'Keep this plan' })
    const caution = portions.getByRole('complementary', { name: /^Before you put/ })
    expect((await caution.boundingBox())!.y).toBeLessThan((await keep.boundingBox())!.y)
    await keep.click()
    await page.getByRole('heading', { level: 1, name: 'A plan is ready' }).waitFor()
    expect(sent.at(-1)).toEqual({
      method: 'POST',
      path: `/api/beds/${bed.id}/plans`,
      body: { material: 'ground-limestone', strength: 0.8, target: null },
    })
    expect(await page.getByRole('button', { name: /^Plan with it/ }).count()).toBe(0)
    expect(complaints).toEqual([])
    await page.close()
  })

  test('another aim is asked of the hub; outside the band it is refused beside its field', async () => {
    const { page } = await open(inventedDecision(bed.id, now))
    await page.getByText(/^Another aim than/).click()
    const field = page.getByRole('textbox', { name: 'Where to go, pH' })
    await field.fill('7.4')
    await page.getByRole('button', { name: 'Reckon with it' }).click()
    await page.getByText('expected a pH inside the band, 6.0 to 6.8').waitFor()
    const asked = page.waitForRequest(/decision\?target=6\.5$/)
    await field.fill('6.5')
    await page.getByRole('button', { name: 'Reckon with it' }).click()
    await asked
    await page.close()
  })
})

describe('what is missing is put right on the spot', () => {
  test('a sample, with its method', async () => {
    const { page, complaints } = await open(undecided(bed.id, now))
    await page.getByRole('heading', { level: 1, name: 'Raise it by 0.6, but not yet' }).waitFor()
    for (const { sentence } of ASKS) {
      expect(await page.getByRole('list', { name: 'What is missing' }).innerText()).toContain(
        sentence,
      )
    }
    await page.getByRole('button', { name: 'Write a sample down' }).click()
    const form = page.getByRole('form', { name: 'A sample' })
    await form.getByRole('button', { name: 'Write it down' }).click()
    await form.getByText('give a number').waitFor()
    await form.getByRole('textbox', { name: 'pH measured' }).fill('5,7')
    await form.getByRole('button', { name: 'Write it down' }).click()
    const entries = await until('the sample is stored', async () => {
      const all = await hub.get<Entry[]>(`/api/beds/${bed.id}/journal`)
      return all.some(({ kind }) => kind === 'sample') ? all : undefined
    })
    expect(entries.find(({ kind }) => kind === 'sample')).toMatchObject({
      ph: 5.7,
      method: 'slurry 1:1',
    })
    expect(complaints).toEqual([])
    await page.close()
  })

  test('the jar form refuses two jars and takes three, by the label of the lime', async () => {
    const { page, complaints, sent } = await open(undecided(bed.id, now))
    await page.getByRole('button', { name: 'Do the jar test' }).first().click()
    const form = page.getByRole('form', { name: 'Jar test' })
    const jar = (n: number) => form.getByRole('textbox', { name: `pH of jar ${n}` })
    await jar(1).fill('5.6')
    await jar(2).fill('5.9')
    await form.getByRole('textbox', { name: /^Calcium carbonate equivalent/ }).fill('90')
    await form.getByRole('button', { name: 'Write it down' }).click()
    await form.getByText('The jars: expected at least three jars with their pH, got 2.').waitFor()
    expect(sent).toEqual([])
    await jar(4).fill('6.6')
    await form.getByRole('button', { name: 'Write it down' }).click()
    await page.getByText('A jar test was written down.').waitFor()
    expect(sent).toHaveLength(1)
    expect(sent[0]!.body).toMatchObject({
      kind: 'jar test',
      soilG: 500,
      jars: [
        { limeG: 0, ph: 5.6 },
        { limeG: 0.45, ph: 5.9 },
        { limeG: 1.8, ph: 6.6 },
      ],
    })
    // What had the focus went away with the form: it is back on what opened it.
    await until(
      'the focus is back',
      async () =>
        (await page
          .locator(':focus')
          .and(page.getByRole('button', { name: 'Do the jar test' }))
          .count()) === 1,
    )
    expect(complaints).toEqual([])
    await page.close()
  })

  test('vinegar, the soil and a laboratory’s figure in its own unit', async () => {
    const { page, complaints, sent, decision } = await open(undecided(bed.id, now))
    await page.getByRole('button', { name: 'Do the vinegar test' }).first().click()
    const vinegar = page.getByRole('form', { name: 'Vinegar test' })
    await vinegar.getByRole('button', { name: 'Write it down' }).click()
    await vinegar.getByText('Say whether it fizzes.').waitFor()
    await vinegar.getByText('Yes, it fizzes').click()
    await vinegar.getByRole('button', { name: 'Write it down' }).click()
    await page.getByText('A vinegar test was written down.').waitFor()
    expect(sent.at(-1)!.body).toMatchObject({ kind: 'vinegar test', fizzes: true })

    await page.getByRole('button', { name: 'Say how the soil is' }).click()
    const soil = page.getByRole('form', { name: 'How the soil is' })
    await soil.getByRole('textbox', { name: /^Dry soil in one litre/ }).fill('640')
    await soil.getByRole('combobox', { name: 'The water it gets' }).selectOption('hard')
    await soil.getByRole('button', { name: 'Save the soil' }).click()
    await until('the soil is stored', () => decision().soil.bulkDensity === 640)
    expect(decision().soil).toEqual({ bulkDensity: 640, planting: null, hardWater: true })

    await page
      .getByRole('button', { name: /laboratory’s figure/ })
      .last()
      .click()
    const form = page.getByRole('form', { name: 'Figure of a laboratory' })
    await form.getByRole('textbox', { name: 'Lime it advises' }).fill('100')
    await form.getByRole('combobox', { name: 'in', exact: true }).selectOption('lb/1000 sq ft')
    await form.getByRole('textbox', { name: 'Worked in how deep' }).fill('15')
    await form.getByRole('textbox', { name: 'From pH' }).fill('5.6')
    await form.getByRole('textbox', { name: 'to pH' }).fill('6.5')
    await form.getByRole('button', { name: 'Write it down' }).click()
    await page.getByText('A lime requirement was written down.').waitFor()
    const test = sent.at(-1)!.body as { limeGM2: number; depthM: number }
    expect(test.limeGM2).toBeCloseTo(488.243, 2)
    expect(test.depthM).toBeCloseTo(0.15, 10)

    await page.getByRole('button', { name: 'Remove' }).first().click()
    await page.getByRole('button', { name: 'Yes, remove' }).click()
    await page.getByText('A vinegar test was written down.').waitFor({ state: 'detached' })
    expect(complaints).toEqual([])
    await page.close()
  })
})

describe('a plan that runs', () => {
  test.each(['', '/plan'])('its next portion goes on in two taps, from /bed/N%s', async (tail) => {
    const { page, complaints, sent } = await open(running(), `/bed/${bed.id}${tail}`, PHONE)
    const before = Date.now()
    await page.getByRole('button', { name: /^Put on 610\sg of ground limestone$/ }).click()
    await page.getByRole('button', { name: 'Write it down' }).click()
    await page.getByRole('button', { name: 'Write it down' }).waitFor({ state: 'detached' })
    expect(sent).toHaveLength(1)
    const { path, body } = sent[0]!
    expect(path).toBe('/api/plans/5/stages/2/done')
    const { at, amountG, text } = body as StageInput
    expect({ amountG, text }).toEqual({ amountG: 610, text: '' })
    expect(Math.abs(at - before)).toBeLessThan(120_000)
    expect(at).toBeLessThanOrEqual(Date.now())
    expect(complaints).toEqual([])
    await page.close()
  })

  test('cautions stand before the button, and what cannot be read is told beside its field', async () => {
    const { page, sent } = await open(running())
    await page.getByRole('button', { name: /^Put on/ }).click()
    const form = page.getByRole('form', { name: 'Portion 2' })
    const write = form.getByRole('button', { name: 'Write it down' })
    const caution = page.getByRole('complementary', { name: /^Before you put/ })
    expect((await caution.boundingBox())!.y).toBeLessThan((await write.boundingBox())!.y)
    const amount = form.getByRole('textbox', { name: 'On the whole bed' })
    await amount.fill('some')
    await write.click()
    await form.getByText("expected a number, got 'some'").waitFor()
    expect(await amount.getAttribute('aria-invalid')).toBe('true')
    expect(sent).toEqual([])
    await page.close()
  })

  test('its photo is made small, without where it was taken, and kept with the entry', async () => {
    const { page, complaints } = await open(running())
    await page.getByRole('button', { name: /^Put on/ }).click()
    const input = page.getByLabel('Photo')
    expect(await input.getAttribute('accept')).toBe('image/*')
    expect(await input.getAttribute('capture')).toBe('environment')
    await input.setInputFiles({
      name: 'note.jpg',
      mimeType: 'image/jpeg',
      buffer: Buffer.from('no picture'),
    })
    await page.getByText("'note.jpg' cannot be read as a picture").waitFor()
    const picture = await page.evaluate<string>(
      `(() => { const c = document.createElement('canvas'); c.width = 2400; c.height = 1200
        const p = c.getContext('2d'); p.fillStyle = '#6a5'; p.fillRect(0, 0, 2400, 1200)
        return c.toDataURL('image/jpeg').split(',')[1] })()`,
    )
    const bytes = Buffer.from(picture, 'base64')
    const place = Buffer.from('Exif\0\0place of the garden', 'latin1')
    const segment = Buffer.concat([Buffer.from([0xff, 0xe1, 0, place.length + 2]), place])
    await input.setInputFiles({
      name: 'bed.jpg',
      mimeType: 'image/jpeg',
      buffer: Buffer.concat([bytes.subarray(0, 2), segment, bytes.subarray(2)]),
    })
    await page.getByAltText('As it will be kept').waitFor()
    await page.getByRole('button', { name: 'Write it down' }).click()
    const kept = await until('the photo is kept', async () => {
      const answer = await fetch(`${hub.url}/api/journal/${limed.id}/photo`)
      return answer.ok ? Buffer.from(await answer.arrayBuffer()) : undefined
    })
    expect(kept.subarray(0, 3)).toEqual(Buffer.from([0xff, 0xd8, 0xff]))
    expect(kept.includes('place of the garden')).toBe(false)
    expect(kept.includes('Exif')).toBe(false)
    expect(sizeOfJpeg(kept)).toEqual({ width: 1600, height: 800 })
    expect(complaints).toEqual([])
    await page.close()
  })

  test('what the photos show stands in the journal of the bed, small, with a link to all of it', async () => {
    const { page, complaints } = await open(running(), `/bed/${bed.id}`)
    await page.unroute(/\/api\//)
    await page.reload()
    const line = page.locator(`[data-entry="${limed.id}"]`)
    const link = line.getByRole('link', { name: /^As it looked: treatment of/ })
    expect(await link.getAttribute('href')).toBe(`/api/journal/${limed.id}/photo`)
    expect(complaints).toEqual([])
    await page.close()
  })

  test('it is held against what was predicted, and given up with a second question', async () => {
    const { page, complaints, sent } = await open(running())
    const plan = part(page, 'The plan at work')
    await plan
      .getByText(/has moved by \+0\.33 pH/)
      .first()
      .waitFor()
    expect(await plan.innerText()).toMatch(/Measured change\s+\+0\.33 ± 0\.14/)
    expect(await plan.innerText()).toMatch(/Expected by now\s+\+0\.35 \(\+0\.21 to \+0\.56\)/)
    expect(await plan.locator('canvas').count()).toBe(1)
    await plan.getByText('The course as numbers').click()
    expect(await plan.getByRole('table', { name: /^pH as expected/ }).innerText()).toContain(
      'Measured',
    )
    await plan.getByRole('button', { name: 'Give the plan up' }).click()
    expect(sent).toEqual([])
    await plan.getByRole('button', { name: 'Yes, give the plan up' }).click()
    await page.getByRole('heading', { level: 1, name: 'Raise it by 0.6' }).waitFor()
    expect(sent.at(-1)).toEqual({
      method: 'POST',
      path: '/api/plans/5/close',
      body: { ending: 'given up' },
    })
    await part(page, 'Plans before')
      .getByText(/given up$/)
      .waitFor()
    expect(complaints).toEqual([])
    await page.close()
  })

  test('no response: the causes, and nothing more to put on; one that arrived is ended', async () => {
    const { page } = await open({
      ...inventedDecision(bed.id, now),
      running: inventedPlan(bed.id, now, {
        verdict: 'no response',
        next: null,
        causes: ['It was not worked in.', 'The lime was coarse.'],
      }),
    })
    await page.getByText('The lime was coarse.').waitFor()
    expect(await page.getByRole('button', { name: /^Put on/ }).count()).toBe(0)
    await page.close()
    const arrived = await open({
      ...inventedDecision(bed.id, now),
      running: inventedPlan(bed.id, now, { stop: 'reached', next: null }),
    })
    await arrived.page.getByRole('button', { name: 'End the plan' }).click()
    await until('it is ended', () => arrived.sent.length === 1)
    expect(arrived.sent[0]!.body).toEqual({ ending: 'reached' })
    await arrived.page.close()
  })
})

test('the ways in: bed page, and the lane of a bed outside its band', async () => {
  const { page, complaints } = await open(inventedDecision(bed.id, now), `/bed/${bed.id}`)
  await page.getByRole('link', { name: 'Decide what to do' }).click()
  await page.getByRole('heading', { level: 1, name: 'Raise it by 0.6' }).waitFor()
  expect(new URL(page.url()).pathname).toBe(`/bed/${bed.id}/plan`)
  await page.route('**/api/beds', (route) =>
    route.fulfill({
      contentType: 'application/json',
      body: JSON.stringify([
        {
          ...bed,
          standing: 'below',
          alarms: [
            {
              id: 1,
              bedId: bed.id,
              bed: bed.name,
              kind: 'early-warning',
              subject: '',
              state: 'unacknowledged',
              raisedAt: now,
              overSince: null,
              acknowledgedAt: null,
              returnedAt: null,
              sentence: 'Long bed is turning sour.',
              advice: 'Measure by hand.',
              evidence: { since: null },
            },
          ],
        },
      ]),
    }),
  )
  await page.goto(hub.url)
  const lane = page.locator(`.lane[data-bed="${bed.id}"]`)
  await lane.waitFor()
  await lane.getByRole('link', { name: 'Decide what to do (Long bed)' }).click()
  await page.getByRole('heading', { level: 1, name: 'Raise it by 0.6' }).waitFor()
  expect(complaints).toEqual([])
  await page.close()
})

test('a bed that is not there, and a hub that cannot answer, are said', async () => {
  const { page } = await open(inventedDecision(bed.id, now), '/bed/999/plan')
  await page.getByRole('heading', { name: 'No such bed' }).waitFor()
  await page.route('**/decision', (route) =>
    route.fulfill({
      status: 500,
      contentType: 'application/problem+json',
      body: JSON.stringify({ type: 'about:blank', title: 'Broken', status: 500 }),
    }),
  )
  await page.goto(`${hub.url}/bed/${bed.id}/plan`)
  await page.getByText('What to do could not be fetched: Broken.').waitFor()
  await page.getByRole('button', { name: 'Fetch again' }).waitFor()
  await page.close()
})

describe.each([WIDE, PHONE])('at $width px', (size) => {
  test.each(['light', 'dark'] as const)(
    'no state of the page scrolls sideways or complains, everything opened, %s',
    async (scheme) => {
      for (const [name, decision] of [
        ['needs', inventedDecision(bed.id, now)],
        ['asks', undecided(bed.id, now)],
        ['runs', running()],
      ] as const) {
        const { page, complaints } = await open(decision, `/bed/${bed.id}/plan`, size)
        await page.emulateMedia({ colorScheme: scheme })
        await page.getByTestId('headline').waitFor()
        if (name === 'needs') {
          await page.getByRole('button', { name: /^Plan with it/ }).click()
          await page.getByRole('button', { name: 'Keep this plan' }).waitFor()
        }
        if (name === 'asks') await page.locator('[data-way="jar test"]').last().click()
        if (name === 'runs') await page.getByRole('button', { name: /^Put on/ }).click()
        if (SHOTS !== undefined) await shoot(page, `plan-${name}-${size.width}-${scheme}`)
        await page.evaluate(
          "document.querySelectorAll('main details').forEach((d) => { d.open = true })",
        )
        await page.waitForLoadState('load')
        const sideways = await page.evaluate(
          'document.documentElement.scrollWidth - document.documentElement.clientWidth',
        )
        expect(sideways, `${name} scrolls sideways`).toBeLessThanOrEqual(0)
        await expectBasics(page)
        if (SHOTS !== undefined) await shoot(page, `plan-${name}-open-${size.width}-${scheme}`)
        expect(complaints, name).toEqual([])
        await page.close()
      }
    },
    60_000,
  )
})

const shoot = (page: Page, name: string) =>
  page.screenshot({ path: join(SHOTS ?? '.', `${name}.png`), fullPage: true })

/** What anybody who hears the page rather than sees it needs. */
async function expectBasics(page: Page): Promise<void> {
  const levels = await page.evaluate<number[]>(
    "[...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map((h) => Number(h.tagName[1]))",
  )
  expect(levels.filter((level) => level === 1)).toHaveLength(1)
  levels.slice(1).forEach((level, i) => expect(level - levels[i]!).toBeLessThanOrEqual(1))
  const amiss = await page.evaluate<string[]>(
    `(() => {
      const bad = []
      const all = (q) => [...document.querySelectorAll('main ' + q)]
      for (const f of all('input, select, textarea'))
        if (f.labels.length === 0 || f.labels[0].textContent.trim() === '') bad.push('no label: ' + f.outerHTML)
      for (const b of all('button, a, summary'))
        if (!b.ariaLabel && b.textContent.trim() === '' && !b.querySelector('img[alt]')) bad.push('no name: ' + b.outerHTML)
      for (const i of all('img')) if (!i.alt) bad.push('no alt: ' + i.outerHTML)
      for (const s of all('svg'))
        if (!s.getAttribute('aria-label') && s.getAttribute('aria-hidden') !== 'true') bad.push('bare svg')
      for (const t of all('table'))
        if (!t.caption || t.caption.textContent.trim() === '') bad.push('no caption')
      for (const r of all('[aria-describedby]'))
        for (const id of r.getAttribute('aria-describedby').split(' '))
          if (!document.getElementById(id)) bad.push('describedby nowhere: ' + id)
      for (const r of all('[aria-labelledby]'))
        if (!document.getElementById(r.getAttribute('aria-labelledby'))) bad.push('labelledby nowhere')
      const ids = all('[id]').map((e) => e.id)
      for (const id of ids) if (ids.indexOf(id) !== ids.lastIndexOf(id)) bad.push('twice: ' + id)
      return bad
    })()`,
  )
  expect(amiss).toEqual([])
}

/** Width and height out of the frame header of a JPEG. */
function sizeOfJpeg(bytes: Buffer): { width: number; height: number } {
  for (let at = 2; at < bytes.length - 9;) {
    const marker = bytes[at + 1]!
    if (marker >= 0xc0 && marker <= 0xc3) {
      return { height: bytes.readUInt16BE(at + 5), width: bytes.readUInt16BE(at + 7) }
    }
    at += 2 + bytes.readUInt16BE(at + 2)
  }
  throw new Error('no frame header')
}
