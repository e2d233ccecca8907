import { execFile } from 'node:child_process'
import { promisify } from 'node:util'
import { pino } from 'pino'
import type { Browser, Locator, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { Entry } from '#hub/api/schemas/journal.ts'
import type { Decision, PlanView } from '#hub/api/schemas/planning.ts'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { configSchema } from '#hub/config/settings.ts'
import { openHub, type Hub } from '#hub/hub.ts'
import { DAY } from '#hub/model/clock.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { DECIDED_AT, PLANNED_FROM, readPlannedGarden } from '../support/planned-garden.ts'
import { freePort } from '../support/ports.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

/** Probes of the sour bed; the first is taken in by hand. */
const PROBES = ['her1', 'her2', 'her3'] as const
const SAMPLED_AT = DECIDED_AT - 8 * DAY

const dir = tempDir()
let hub: Hub
let mqttPort: number
let browser: Browser
let page: Page
let complaints: readonly string[]
let now = PLANNED_FROM

const get = async <T>(path: string): Promise<T> => {
  const response = await fetch(hub.url + path)
  expect(response.status, path).toBe(200)
  return (await response.json()) as T
}
async function send(method: 'POST' | 'PUT', path: string, body: unknown): Promise<void> {
  const response = await fetch(hub.url + path, {
    method,
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify(body),
  })
  expect(response.ok, `${path}: ${response.status}`).toBe(true)
}

beforeAll(async () => {
  mqttPort = await freePort()
  hub = await openHub(
    configSchema.parse({
      dataDir: dir.path,
      httpPort: await freePort(),
      mqttPort,
      zone: 'Europe/Lisbon',
    }),
    { clock: () => now, log: pino({ level: 'silent' }) },
  )
  browser = await openBrowser()
  ;({ page, complaints } = await openPage(browser, hub.url, { width: 360, height: 780 }))
  page.setDefaultTimeout(20_000)
}, 60_000)
afterAll(async () => {
  await browser?.close()
  await hub?.stop()
  dir[Symbol.dispose]()
})

/** Goes on with Tab until it is there; what has the focus can be seen. */
async function tabTo(wanted: Locator): Promise<void> {
  await wanted.waitFor()
  const focused = page.locator(':focus').and(wanted)
  for (let presses = 0; presses < 150; presses++) {
    if ((await focused.count()) > 0) {
      const ring = await page.evaluate<string>(
        // The ring of a hidden radio button is drawn around its words.
        `[document.activeElement, document.activeElement.nextElementSibling]
          .map((element) => element === null ? 'none' : getComputedStyle(element).outlineStyle)
          .join('')`,
      )
      expect(ring, `no focus ring on ${String(wanted)}`).not.toBe('nonenone')
      return
    }
    await page.keyboard.press('Tab')
  }
  throw new Error(`${String(wanted)} cannot be reached with the keyboard`)
}
const press = async (wanted: Locator, key: 'Enter' | 'Space' = 'Enter'): Promise<void> => {
  await tabTo(wanted)
  await page.keyboard.press(key)
}
async function write(label: string | RegExp, text: string): Promise<void> {
  await tabTo(page.getByRole('textbox', { name: label, exact: typeof label === 'string' }).first())
  await page.keyboard.press('Control+A')
  await page.keyboard.type(text)
}
/** Chooses in a list with the arrows. */
async function choose(label: string, value: string | RegExp): Promise<void> {
  const list = page.getByRole('combobox', { name: label, exact: true })
  await list.getByRole('option').filter({ hasText: value }).first().waitFor({ state: 'attached' })
  await tabTo(list)
  const chosen = (): Promise<string> =>
    page.evaluate<string>('document.activeElement.selectedOptions[0].textContent')
  for (const way of ['ArrowUp', 'ArrowDown']) {
    for (let presses = 0; presses < 20; presses++) {
      const now = await chosen()
      if (typeof value === 'string' ? now === value : value.test(now)) return
      await page.keyboard.press(way)
    }
  }
  throw new Error(`'${String(value)}' is not in '${label}'`)
}
const button = (name: string | RegExp): Locator => page.getByRole('button', { name }).first()
const link = (name: string | RegExp): Locator => page.getByRole('link', { name }).first()
/** As somebody would with F5, because so much time goes by at once. */
const later = async (at: number): Promise<void> => {
  now = at
  await page.reload()
}

/** A message of a probe; the hub runs in this process, which must not stand still meanwhile. */
async function speak(probe: string): Promise<void> {
  const payload = '{"b":9,"n":0,"u":5,"v":{"ph":5.31,"vwc":0.25,"st":14.2}}'
  const to = ['-p', String(mqttPort), '-q', '1', '-t', `lm1/${probe}/up/r`, '-m', payload]
  await promisify(execFile)('mosquitto_pub', to)
}

describe('with the keyboard alone, from an empty hub to a portion in the journal', () => {
  test('the skip link leads past the navigation', async () => {
    await page.getByRole('region', { name: 'First steps' }).waitFor()
    await press(link('Skip to the page'))
    expect(await page.locator(':focus').getAttribute('id')).toBe('main')
  }, 30_000)

  test('the first bed and its first spot', async () => {
    await press(link('Add the first bed'))
    await write('Name', 'Heron Bed')
    await write(/^Area/, '2')
    await write(/depth/i, '20')
    await choose('Soil texture', 'loam')
    await write('Find a crop', 'lettuce')
    await press(page.getByRole('checkbox', { name: /lettuce/i }).first(), 'Space')
    await press(button('Save bed'))
    await page.getByRole('heading', { level: 1, name: 'Heron Bed' }).waitFor()
    await write('New spot', 'Row 1')
    await page.keyboard.press('Enter')
    const [bed] = await until('the spot', async () => {
      const beds = await get<BedView[]>('/api/beds')
      return beds[0]?.spots.length === 1 ? beds : undefined
    })
    expect(bed).toMatchObject({ areaM2: 2, depthM: 0.2, texture: 'loam' })
  }, 60_000)

  test('a probe that speaks is taken in and put in its spot', async () => {
    await press(link('Next: the first reading'))
    await speak('her1')
    await press(button('Take it in'))
    await choose('Spot', 'Heron Bed: Row 1')
    await press(button('Save place'))
    await until(
      'it sits there',
      async () => (await get<ProbeView>('/api/probes/her1')).spot === 'Row 1',
    )
    // Two more in the same way: nothing new for the keyboard.
    const [bed] = await get<BedView[]>('/api/beds')
    for (const [i, probe] of PROBES.entries()) {
      if (i === 0) continue
      await speak(probe)
      const { id: spotId } = (await (
        await fetch(`${hub.url}/api/beds/${bed!.id}/spots`, {
          method: 'POST',
          headers: { 'content-type': 'application/json' },
          body: JSON.stringify({ name: `Row ${i + 1}` }),
        })
      ).json()) as { id: number }
      await until('heard', async () =>
        (await get<ProbeView[]>('/api/probes')).some(({ id }) => id === probe),
      )
      await send('PUT', `/api/probes/${probe}`, { name: probe })
      await send('POST', `/api/probes/${probe}/placement`, { spotId, from: PLANNED_FROM })
    }
  }, 60_000)

  test('weeks later a sample is written in the journal', async () => {
    await readPlannedGarden(hub, PLANNED_FROM, SAMPLED_AT)
    await later(SAMPLED_AT)
    await press(link('Journal'))
    await press(button('Write an entry'))
    // The kinds are one group: an arrow moves within it.
    await tabTo(page.getByRole('radio', { checked: true }).first())
    const sample = page.getByRole('radio', { name: 'Sample' })
    for (let i = 0; i < 5 && !(await sample.isChecked()); i += 1) {
      await page.keyboard.press('ArrowRight')
    }
    await write('pH measured', '5.3')
    await choose('How', /laboratory/i)
    await press(button('Save entry'))
    const [bed] = await get<BedView[]>('/api/beds')
    await until('the entry', async () => {
      const all = await get<Entry[]>(`/api/beds/${bed!.id}/journal`)
      return all.some(
        ({ kind, ph, method }) => kind === 'sample' && ph === 5.3 && method === 'laboratory',
      )
    })
    await page.locator('[data-day]').getByText(/5\.30/).waitFor()
  }, 60_000)

  test('the garden page leads to what to do, and a plan is kept', async () => {
    await readPlannedGarden(hub, SAMPLED_AT, DECIDED_AT)
    await later(DECIDED_AT)
    const [bed] = await get<BedView[]>('/api/beds')
    await until(
      'what the bed needs is known',
      async () => (await get<Decision>(`/api/beds/${bed!.id}/decision`)).need.verdict === 'raise',
      60_000,
    )
    await press(page.getByRole('navigation').getByRole('link', { name: 'Garden' }))
    await press(link(/^Decide what to do/))
    await page.getByTestId('headline').waitFor()
    await press(button(/Plan with it.*ground limestone/))
    await press(button('Keep this plan'))
    await until(
      'the plan is kept',
      async () => (await get<PlanView[]>(`/api/beds/${bed!.id}/plans`)).length === 1,
    )
  }, 120_000)

  test('the first portion is written down', async () => {
    await press(button(/^Put on .* of ground limestone/))
    await press(button('Write it down'))
    const [bed] = await get<BedView[]>('/api/beds')
    await until('the entry', async () => {
      const all = await get<Entry[]>(`/api/beds/${bed!.id}/journal`)
      return all.some(
        ({ kind, material }) => kind === 'treatment' && material === 'ground limestone',
      )
    })
    const [plan] = await get<PlanView[]>(`/api/beds/${bed!.id}/plans`)
    await page.getByText(plan!.sentence).first().waitFor()
    expect(complaints).toEqual([])
  }, 60_000)
})
