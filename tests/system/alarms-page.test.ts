import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Alarm as AlarmView, AlarmWithChanges } from '#hub/api/schemas/alarm.ts'
import type { Alarm } from '#hub/model/alarm.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { openStores } from '#hub/store/open.ts'
import { anAlarm } from '../support/alarm-fixture.ts'
import { axeFaults } from '../support/axe-faults.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const WIDE = { width: 1280, height: 900 }
const PHONE = { width: 360, height: 780 }
const SHOTS = process.env['SCREENSHOTS']

let dir: ReturnType<typeof tempDir>
let browser: Browser
let hub: HubProcess
let page: Page
let complaints: readonly string[]
const ids: Record<string, number> = {}

const NO_CHANGE = {
  ...anAlarm().evidence,
  from: null,
  to: null,
  change: null,
  changeHalfWidth: null,
  since: null,
  spotsMoved: [],
  sureness: null,
}

/** Two beds whose probes have said nothing yet: nothing new can be said of their alarms, so they stay as they are. */
async function plant(): Promise<void> {
  const stores = await openStores(dir.path, { zone: 'Europe/Lisbon' })
  const now = Date.now()
  const bedOf = async (name: string, probe: string): Promise<number> => {
    const { id } = await stores.garden.addBed(
      { name, areaM2: 3, depthM: 0.3, texture: 'loam', crops: ['tomato'], ownBand: null },
      now - 90 * DAY,
    )
    const spot = await stores.garden.addSpot(id, 'middle')
    await stores.garden.adoptProbe(probe, '', now)
    await stores.garden.placeProbe(probe, spot!.id, now)
    return id
  }
  const long = await bedOf('Long bed', 'long1')
  const moss = await bedOf('Moss bed', 'moss1')
  const some: Record<string, Partial<Alarm>> = {
    band: {
      bedId: long,
      kind: 'out-of-band',
      priority: 'medium',
      raisedAt: now - 5 * HOUR,
      sentence:
        'Long bed: pH 5.4 ± 0.2, below its band of 6.0 to 6.8 for three days or more. Likely (90 %).',
      advice: 'Nothing is urgent. Measure by hand at two or three places.',
      evidence: {
        ...NO_CHANGE,
        sureness: 0.9,
        spotsMoved: ['north', 'south'],
        figures: [
          { what: 'level', value: 5.41, halfWidth: 0.21, unit: 'pH' },
          { what: 'band-low', value: 6, halfWidth: null, unit: 'pH' },
        ],
      },
    },
    dry: {
      bedId: long,
      kind: 'dry',
      priority: 'medium',
      raisedAt: now - 2 * HOUR,
      sentence: 'Long bed: the soil is dry.',
      advice: 'Water slowly.',
      evidence: NO_CHANGE,
    },
    silent: {
      bedId: long,
      kind: 'probe-silent',
      subject: 'fern1',
      priority: 'medium',
      state: 'acknowledged',
      acknowledgedAt: now - HOUR,
      raisedAt: now - 3 * HOUR,
      sentence: 'Long bed: probe fern1 (north) is silent.',
      advice: 'See whether it has power.',
      evidence: { ...NO_CHANGE, spotsMoved: ['north'] },
    },
    drift: {
      bedId: moss,
      kind: 'drift-out',
      priority: 'low',
      raisedAt: now - 30 * HOUR,
      sentence: 'Moss bed: its pH drifts up.',
      advice: 'There is time.',
      evidence: NO_CHANGE,
    },
    past: {
      bedId: moss,
      kind: 'harmful-shift',
      state: 'normal',
      raisedAt: now - 40 * DAY,
      acknowledgedAt: now - 39 * DAY,
      returnedAt: now - 30 * DAY,
      sentence: 'Moss bed: pH fell from 6.5 to 5.1 (by 1.4 ± 0.2). Back to normal.',
    },
    pastDisk: {
      bedId: null,
      kind: 'hub-trouble',
      subject: 'disk',
      state: 'normal',
      raisedAt: now - 3 * DAY,
      sentence: 'The disk of the hub was nearly full.',
      evidence: NO_CHANGE,
    },
  }
  const saved = await stores.garden.saveAlarms(
    Object.values(some).map((change) => {
      const alarm = anAlarm({ ...change, id: 0 })
      return { alarm, at: alarm.raisedAt, what: 'raised' as const, by: null, note: '' }
    }),
  )
  for (const [i, name] of Object.keys(some).entries()) ids[name] = saved[i]!.id
  await stores.close()
}

beforeAll(async () => {
  dir = tempDir()
  if (SHOTS !== undefined) mkdirSync(SHOTS, { recursive: true })
  await plant()
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  ;({ page, complaints } = await openPage(browser, `${hub.url}/alarms`, WIDE))
  page.setDefaultTimeout(20_000)
}, 120_000)
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir?.[Symbol.dispose]()
})

const entry = (name: string) => page.locator(`[data-alarm="${ids[name]}"]`)
const told = (name: string) => hub.get<AlarmWithChanges>(`/api/alarms/${ids[name]}`)
const changed = (name: string, what: string, is: (alarm: AlarmView) => boolean) =>
  until(
    what,
    async () => {
      const { alarm } = await told(name)
      return is(alarm) ? alarm : undefined
    },
    20_000,
  )
const sideways = (of: Page): Promise<number> =>
  of.evaluate<number>('document.documentElement.scrollWidth - document.documentElement.clientWidth')

describe('the book of alarms', () => {
  test('open alarms stand by bed, the urgent first; what is over is below', async () => {
    await page.getByText('3 alarms wait to be acknowledged.').waitFor()
    const long = page.getByRole('region', { name: 'Long bed' })
    const order = await Promise.all(
      (await long.locator('[data-alarm]').all()).map((one) => one.getAttribute('data-alarm')),
    )
    expect(order).toEqual([ids['dry'], ids['band'], ids['silent']].map(String))
    const past = page.getByRole('region', { name: 'History' })
    await past.locator(`[data-alarm="${ids['past']}"]`).waitFor()
    expect(await past.locator('[data-alarm]').count()).toBe(2)
  })

  test('one opens to its figures with their doubt, the chart at that time, and what happened', async () => {
    await entry('band').locator('summary').first().click()
    const body = entry('band').locator('.alarm-body')
    await body.getByText('5.41 ± 0.21 (95 % interval)').waitFor()
    await body.getByText('Nothing is urgent. Measure by hand').waitFor()
    await body.getByText('Raised').first().waitFor()
    const chart = body.getByRole('link', { name: 'Show the chart of Long bed at that time' })
    expect(await chart.getAttribute('href')).toMatch(/^\/bed\/\d+\?/)
    expect(await axeFaults(page)).toEqual([])
    if (SHOTS !== undefined) {
      await page.screenshot({ path: join(SHOTS, 'alarms-1280.png'), fullPage: true })
    }
  })

  test('a note is kept and shown at once', async () => {
    await entry('band').getByText('Write a note …').click()
    await entry('band').getByRole('button', { name: 'Keep the note' }).click()
    await entry('band').getByText('Please write something').waitFor()
    await entry('band').getByLabel('Note').fill('dug there last week')
    await entry('band').getByRole('button', { name: 'Keep the note' }).click()
    await entry('band').locator('.alarm-note', { hasText: 'dug there last week' }).waitFor()
  })

  test('all of a bed are acknowledged with one press', async () => {
    await page.getByRole('button', { name: 'Acknowledge all 2' }).click()
    await changed('band', 'the first', ({ state }) => state === 'acknowledged')
    await changed('dry', 'the second', ({ state }) => state === 'acknowledged')
    await page.getByText('One alarm waits to be acknowledged.').waitFor()
  })

  test('by keyboard alone: opened, shelved for a week, taken back, acknowledged', async () => {
    await entry('drift').locator('summary').first().focus()
    await page.keyboard.press('Enter')
    const press = async (name: string): Promise<void> => {
      await entry('drift').getByRole('button', { name, exact: true }).focus()
      await page.keyboard.press('Enter')
    }
    await entry('drift').getByText('Put it on the shelf …').focus()
    await page.keyboard.press('Enter')
    await entry('drift').getByRole('radio', { name: '1 day' }).focus()
    await page.keyboard.press('ArrowRight')
    await entry('drift').getByLabel('Why (may stay empty)').fill('after the holiday')
    await press('Put on the shelf')
    const shelved = await changed('drift', 'shelved', ({ shelvedUntil }) => shelvedUntil !== null)
    expect(shelved.shelvedUntil! - Date.now()).toBeGreaterThan(6.9 * DAY)
    expect(shelved.state).toBe('unacknowledged')
    await page.getByText('Every open alarm has been acknowledged.').waitFor()
    const shelf = page.getByRole('region', { name: 'On the shelf' })
    await shelf.locator(`[data-alarm="${ids['drift']}"]`).waitFor()

    await page.goto(hub.url)
    await page.getByText('One alarm is on the shelf').waitFor()
    expect(await page.locator(`[data-alarm="${ids['drift']}"]`).count()).toBe(0)

    await page.goto(`${hub.url}/alarms#alarm-${ids['drift']}`)
    await entry('drift').locator('.alarm-note', { hasText: 'after the holiday' }).waitFor()
    await press('Take from the shelf')
    await changed('drift', 'taken back', ({ shelvedUntil }) => shelvedUntil === null)
    await page.getByRole('region', { name: 'Moss bed' }).waitFor()
    await press('Acknowledge')
    await changed('drift', 'acknowledged', ({ state }) => state === 'acknowledged')
    expect((await told('drift')).changes.map(({ what }) => what)).toEqual([
      'raised',
      'shelved',
      'unshelved',
      'acknowledged',
    ])
  })

  test('a time that is over is refused before it is sent', async () => {
    if (!(await entry('band').evaluate((one) => (one as { open?: boolean }).open === true))) {
      await entry('band').locator('summary').first().click()
    }
    await entry('band').getByText('Put it on the shelf …').click()
    await entry('band').getByText('until a date', { exact: true }).click()
    await entry('band').getByLabel('Until', { exact: true }).fill('2020-01-01T08:00')
    await entry('band').getByRole('button', { name: 'Put on the shelf' }).click()
    await entry('band').getByText('Please give a time that lies ahead').waitFor()
    expect((await told('band')).alarm.shelvedUntil).toBeNull()
  })

  test('the history is picked by kind and by bed', async () => {
    const past = page.getByRole('region', { name: 'History' })
    await past.getByLabel('Kind').selectOption('hub-trouble')
    await until(
      'one is left',
      async () => ((await past.locator('[data-alarm]').count()) === 1 ? true : undefined),
      10_000,
    )
    await past.locator(`[data-alarm="${ids['pastDisk']}"] summary`).click()
    await past.getByText('Disk', { exact: true }).waitFor()
    await past.getByLabel('Kind').selectOption('dry')
    await past.getByText('No alarm of that kind is over.').waitFor()
    await past.getByLabel('Kind').selectOption('all')
    await past.getByLabel('Bed').selectOption('Moss bed')
    await past.locator(`[data-alarm="${ids['past']}"]`).waitFor()
  })

  test('at 360 px nothing has to be pushed sideways and nobody is shut out', async () => {
    await page.setViewportSize(PHONE)
    const summary = entry('past').locator('summary').first()
    await summary.click()
    await entry('past').locator('.alarm-changes').waitFor()
    expect(await sideways(page)).toBeLessThanOrEqual(0)
    expect(await axeFaults(page)).toEqual([])
    if (SHOTS !== undefined) {
      await page.screenshot({ path: join(SHOTS, 'alarms-360.png'), fullPage: true })
    }
    expect(complaints).toEqual([])
  })
})
