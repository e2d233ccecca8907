import { execFile } from 'node:child_process'
import { mkdir, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { promisify } from 'node:util'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { DamagedPartView } from '#hub/api/schemas/damaged.ts'
import type { Health } from '#hub/api/schemas/health.ts'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import { openStores } from '#hub/store/open.ts'
import { axeFaults } from '../support/axe-faults.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { batchOf, sampleReading } from '../support/sample-readings.ts'
import { tempDir } from '../support/temp-dir.ts'

const SHOTS = process.env['SCREENSHOTS']
const PER_DAY = DAY / MINUTE
let browser: Browser
let hub: HubProcess
let bed = 0
let backup = ''
const dir = tempDir()
const today = Math.floor(Date.now() / DAY) * DAY
const first = today - 6 * DAY

/** A bed with a probe that read every minute for five days, of which two are changed on the disk after a backup. */
beforeAll(async () => {
  const data = join(dir.path, 'data')
  const stores = await openStores(data, { zone: 'Europe/Lisbon' })
  const { garden, readings } = stores
  const made = await garden.addBed(
    {
      name: 'Siskin',
      areaM2: 2,
      depthM: 0.3,
      texture: 'raised-bed mix',
      crops: ['tomato'],
      ownBand: null,
    },
    first,
  )
  bed = made.id
  const spot = await garden.addSpot(bed, 'middle')
  await garden.adoptProbe('heron1', 'Heron', first)
  const rest = { low: null, high: null, resolution: null, depthM: 0.1, from: null, described: true }
  await garden.hear(
    [
      {
        id: 'heron1',
        at: first,
        channels: [
          { name: 'm1', senses: 'vwc', unit: 'm3/m3', ...rest },
          { name: 'st', senses: 'temp.soil', unit: 'Cel', ...rest },
        ],
      },
    ],
    50,
  )
  await garden.placeProbe('heron1', spot!.id, first)
  await readings.append(
    batchOf({
      readings: Array.from({ length: 5 * PER_DAY }, (_, seq) =>
        sampleReading({
          probe: 'heron1',
          seq,
          at: first + seq * MINUTE,
          values: { m1: 0.25 + (seq % 50) / 1000, st: 15 + (seq % 7) / 8 },
        }),
      ),
    }),
  )
  await readings.settle()
  await stores.close()
  hub = await startHub('start', data)
  backup = join(dir.path, 'backup.tar')
  const archive = await fetch(`${hub.url}/api/backup.tar`)
  await writeFile(backup, await archive.bytes())
  const db = new DatabaseSync(join(data, 'readings.db'))
  for (const day of [1, 3]) {
    const { id, body } = db
      .prepare('SELECT id, body FROM block WHERE start = ?')
      .get(first + day * DAY) as { id: number; body: Uint8Array }
    body[12] = body[12]! ^ 1
    db.prepare('UPDATE block SET body = ? WHERE id = ?').run(body, id)
  }
  db.close()
  browser = await openBrowser()
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

const over = 'document.documentElement.scrollWidth - document.documentElement.clientWidth'
const shot = async (page: Awaited<ReturnType<typeof openPage>>['page'], name: string) => {
  if (SHOTS === undefined) return
  await mkdir(SHOTS, { recursive: true })
  await page.screenshot({ path: join(SHOTS, `damaged-${name}.png`), fullPage: true })
}

test.each([
  ['wide', 1280, 900],
  ['phone', 360, 780],
] as const)(
  'a damaged day is marked in the trend of its bed, and leads to what can be done: %s',
  async (name, width, height) => {
    const { page, complaints } = await openPage(browser, `${hub.url}/bed/${bed}?range=month`, {
      width,
      height,
    })
    page.setDefaultTimeout(15_000)
    const note = page.getByTestId('damaged-note').first()
    await note.filter({ hasText: /^Hatched: between .*\(2,880 of those days\)/ }).waitFor()
    expect(await page.evaluate(over)).toBeLessThanOrEqual(0)
    expect(await axeFaults(page)).toEqual([])
    await shot(page, `bed-${name}`)
    await note.getByRole('link', { name: 'What can be done about it' }).click()
    const part = page.getByTestId('damaged')
    await part
      .getByText(/^Readings \(1,440\), heron1/)
      .first()
      .waitFor()
    expect(await part.getByRole('listitem').count()).toBe(2)
    expect(await page.evaluate(over)).toBeLessThanOrEqual(0)
    expect(await axeFaults(page)).toEqual([])
    await shot(page, `settings-${name}`)
    expect(complaints).toEqual([])
    await page.close()
  },
  60_000,
)

test.each([
  ['de', /beschädigte Messwerte: 2\.?880, siehe Speicher$/],
  ['es', /lecturas dañadas: 2\.?880, véase Almacenamiento$/],
  ['en', /damaged readings: 2,880, see Storage$/],
] as const)(
  'the row of the store tells it in %s',
  async (language, words) => {
    const garden = await hub.get<Record<string, unknown>>('/api/garden')
    expect((await hub.send('PUT', '/api/garden', { ...garden, language })).ok).toBe(true)
    const { page } = await openPage(browser, `${hub.url}/settings`, { width: 1280, height: 900 })
    page.setDefaultTimeout(15_000)
    const row = page.locator('dd', { has: page.locator('a[href="#storage-title"]') })
    const told = row.filter({ hasText: words })
    await told.waitFor()
    expect(await told.textContent()).not.toContain('put aside')
    await page.close()
  },
  60_000,
)

test('the page of the probe marks it, too', async () => {
  const { page } = await openPage(browser, `${hub.url}/probe/heron1`, { width: 1280, height: 900 })
  page.setDefaultTimeout(15_000)
  const sent = page.locator('section', { has: page.getByRole('heading', { name: 'As sent' }) })
  await sent.getByLabel('Month', { exact: true }).check()
  await sent
    .getByTestId('damaged-note')
    .filter({ hasText: /^Hatched: between/ })
    .waitFor()
  await page.close()
}, 60_000)

test('one is given up, the bytes of the other are fetched, and it comes back out of a backup', async () => {
  const { page, complaints } = await openPage(browser, `${hub.url}/settings`, {
    width: 1280,
    height: 900,
  })
  page.setDefaultTimeout(15_000)
  const part = page.getByTestId('damaged')
  const items = part.getByRole('listitem')
  const parts = await hub.get<DamagedPartView[]>('/api/damaged')
  const fetched = page.waitForEvent('download')
  await items
    .nth(1)
    .getByRole('link', { name: /^Download .* as they were found/ })
    .click()
  const file = join(dir.path, 'bytes')
  await (await fetched).saveAs(file)
  const { stdout } = await promisify(execFile)('wc', ['-c', file])
  expect(Number(stdout.split(' ')[0])).toBe(parts[1]!.bytes)

  await items.nth(0).getByRole('button', { name: 'Do without them' }).click()
  await items.nth(0).getByText('from then on no backup brings them back; try one first.').waitFor()
  await items.nth(0).getByRole('button', { name: /^Yes/ }).click()
  await items
    .nth(0)
    .getByText(/given up/)
    .waitFor()
  expect((await hub.get<Health>('/api/health')).status).toBe('trouble')

  const choose = part.getByLabel('Bring them back out of a backup')
  const wrong = join(dir.path, 'wrong.tar')
  await writeFile(wrong, 'no archive')
  await choose.setInputFiles(wrong)
  await part
    .getByRole('alert')
    .getByText(/expected the archive of a backup \(\.tar\), got something else/)
    .waitFor()
  await choose.setInputFiles(backup)
  await part.getByText('Readings that came back: 1,440.').waitFor()
  await part.getByText('Everything that was found damaged on the disk is settled.').waitFor()
  expect(await hub.get<Health>('/api/health')).toMatchObject({
    status: 'ok',
    counts: { readings: 4 * PER_DAY },
  })
  await page.goto(`${hub.url}/bed/${bed}?range=month`)
  const note = page.getByTestId('damaged-note').first()
  await note.filter({ hasText: /^Hatched: from .*\(1,440 of that day\)/ }).waitFor()
  expect(await note.getByRole('link').count()).toBe(0)
  // The refused archive is what the console complains about.
  expect(complaints.filter((one) => !one.includes('400'))).toEqual([])
  await page.close()
}, 60_000)
