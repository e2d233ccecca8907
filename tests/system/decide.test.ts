import { join } from 'node:path'
import { pino } from 'pino'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Alarm } from '#hub/api/schemas/alarm.ts'
import type { Entry } from '#hub/api/schemas/journal.ts'
import type { Decision, PlanView } from '#hub/api/schemas/planning.ts'
import type { GardenReview } from '#hub/api/schemas/review.ts'
import { configSchema } from '#hub/config/settings.ts'
import { openHub, type Hub } from '#hub/hub.ts'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import { openStores } from '#hub/store/open.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { DECIDED_AT, plantPlannedGarden, readPlannedGarden } from '../support/planned-garden.ts'
import { freePort } from '../support/ports.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const PHONE = { width: 360, height: 780 }
/** What an amendment did can be told with half a year before it. */
const BEGAN = DECIDED_AT - 230 * DAY
const SANK = { at: DECIDED_AT - 22 * DAY, by: 0.65 }
/** Where screenshots go when somebody wants to look at them. */
const SHOTS = process.env['SCREENSHOTS']

const dir = tempDir()
let hub: Hub
let browser: Browser
let page: Page
let complaints: readonly string[]
let now = DECIDED_AT
let bedId = 0

const get = async <T>(path: string): Promise<T> => {
  const response = await fetch(hub.url + path)
  expect(response.status, path).toBe(200)
  return (await response.json()) as T
}
const shot = async (name: string): Promise<void> => {
  const sideways = await page.evaluate(
    'document.documentElement.scrollWidth - document.documentElement.clientWidth',
  )
  expect(sideways, `${name} scrolls sideways`).toBeLessThanOrEqual(0)
  expect(complaints, name).toEqual([])
  if (SHOTS !== undefined) {
    await page.screenshot({ path: join(SHOTS, `decide-${name}-360.png`), fullPage: true })
  }
}

beforeAll(async () => {
  const stores = await openStores(dir.path, { zone: 'Europe/Lisbon' })
  bedId = (await plantPlannedGarden(stores, BEGAN)).sour
  await stores.garden.setPlanningSettings({
    season: null,
    currency: 'EUR',
    prices: [{ material: 'ground-limestone', perKg: 0.9 }],
  })
  await readPlannedGarden(stores, BEGAN, undefined, null, SANK)
  await stores.close()
  hub = await openHub(
    configSchema.parse({
      dataDir: dir.path,
      httpPort: await freePort(),
      mqttPort: await freePort(),
      zone: 'Europe/Lisbon',
    }),
    { clock: () => now, log: pino({ level: 'silent' }) },
  )
  browser = await openBrowser()
}, 60_000)
afterAll(async () => {
  await browser?.close()
  await hub?.stop()
  dir[Symbol.dispose]()
})

describe('from an alarm to a review, on a phone', () => {
  test('the alarm leads to what to do', async () => {
    const alarm = await until(
      'an early warning',
      async () =>
        (await get<Alarm[]>('/api/alarms?open=true')).find(
          (a) => a.kind === 'early-warning' && a.bedId === bedId,
        ),
      60_000,
    )
    await until(
      'what the bed needs is known',
      async () => {
        const { need } = await get<Decision>(`/api/beds/${bedId}/decision`)
        return need.verdict === 'raise'
      },
      60_000,
    )
    ;({ page, complaints } = await openPage(browser, `${hub.url}/alarms`, PHONE))
    page.setDefaultTimeout(10_000)
    await page.getByText(alarm.sentence).first().waitFor()
    await shot('1-alarm')
    const entry = page.locator(`[data-alarm="${alarm.id}"]`)
    await entry.locator('summary').first().click()
    await entry.getByRole('link', { name: /Decide what to do/ }).click()
    await page.getByTestId('headline').waitFor()
    expect(new URL(page.url()).pathname).toBe(`/bed/${bedId}/plan`)
    await shot('2-need')
  }, 130_000)

  test('a material leads to portions, and the plan is kept', async () => {
    const refused = page.locator('[data-material="gypsum"]')
    await page.getByText(/^Not for this bed: /).click()
    await refused.getByText('gypsum', { exact: true }).waitFor()
    await page.getByRole('button', { name: /Plan with it.*ground limestone/ }).click()
    await page.getByRole('button', { name: 'Keep this plan' }).waitFor()
    // What can hurt stands before the button.
    await page
      .getByText(/dust mask/)
      .first()
      .waitFor()
    await shot('3-portions')
    await page.getByRole('button', { name: 'Keep this plan' }).click()
    const plan = await until('the plan is kept', async () =>
      (await get<PlanView[]>(`/api/beds/${bedId}/plans`)).at(0),
    )
    expect(plan).toMatchObject({ material: 'ground-limestone', closedAt: null })
    expect(plan.targetPh).toBeGreaterThan(6)
    const [first] = plan.stages
    expect(first!.change.typical).toBeLessThanOrEqual(0.5)
    expect(first!.change.high).toBeLessThanOrEqual(1)
  }, 40_000)

  test('two taps write the first portion in the journal', async () => {
    await page.getByRole('button', { name: /^Put on .* of ground limestone/ }).click()
    await shot('4-put-on')
    await page.getByRole('button', { name: 'Write it down' }).click()
    const [entry] = await until('the entry', async () => {
      const all = await get<Entry[]>(`/api/beds/${bedId}/journal`)
      const treatments = all.filter(({ kind }) => kind === 'treatment')
      return treatments.length === 1 ? treatments : undefined
    })
    const [plan] = await get<PlanView[]>(`/api/beds/${bedId}/plans`)
    expect(plan!.stages[0]!.entry).toEqual(entry)
    expect(entry).toMatchObject({
      material: 'ground limestone',
      amountG: plan!.stages[0]!.amountG,
    })
    await page.getByText(plan!.sentence).first().waitFor()
    await shot('5-written-down')
  }, 40_000)

  test('months later the plan says how it goes, and the review what it did', async () => {
    const limedAt = now
    now = DECIDED_AT + 150 * DAY
    await readPlannedGarden(hub, limedAt + MINUTE, now, { at: limedAt, rise: 0.45 }, null)
    const plan = await until(
      'the plan is judged',
      async () => {
        const [one] = await get<PlanView[]>(`/api/beds/${bedId}/plans`)
        return one!.verdict === 'as expected' ? one : undefined
      },
      90_000,
    )
    expect(plan.measured!.value).toBeGreaterThan(0.3)
    expect(plan.predicted!.value).toBeGreaterThan(0.2)
    expect(plan.next, 'one more portion is left').not.toBeNull()
    await page.reload()
    await page.getByText(plan.sentence).first().waitFor()
    await shot('6-how-it-goes')

    const review = await until(
      'the treatment is reviewed',
      async () => {
        const all = await get<GardenReview>('/api/review')
        const own = all.beds.find((bed) => bed.bedId === bedId)!
        return own.treatments[0]?.worked === 'yes' ? own : undefined
      },
      60_000,
    )
    const [treatment] = review.treatments
    expect(treatment!.effect!.peak!.low).toBeGreaterThan(0)
    expect(treatment!.cost).toMatchObject({ currency: 'EUR' })
    await page.getByRole('link', { name: 'Review' }).click()
    await page.getByText(treatment!.sentence).first().waitFor()
    await shot('7-review')
    expect(complaints).toEqual([])
  }, 180_000)
})
