import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdir } from 'node:fs/promises'
import { join } from 'node:path'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { StorageView } from '#hub/api/schemas/storage.ts'
import { DAY, MINUTE } from '#hub/model/clock.ts'
import { openStores } from '#hub/store/open.ts'
import { axeFaults } from '../support/axe-faults.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { seededRandom } from '../support/random.ts'
import { tempDir } from '../support/temp-dir.ts'

const SHOTS = process.env['SCREENSHOTS']
let browser: Browser
let hub: HubProcess
const dir = tempDir()
const alone = tempDir()

/** Two full days of a probe that reads every minute, more than half a year ago, a day of now, and a month of looks. */
async function plant(folder: string): Promise<void> {
  const stores = await openStores(folder, { zone: 'Europe/Lisbon' })
  const today = Math.floor(Date.now() / DAY) * DAY
  const random = seededRandom(3)
  const days = [today - 210 * DAY, today - 209 * DAY, today - DAY]
  const readings = days.flatMap((day, d) =>
    Array.from({ length: 1440 }, (_, i) => ({
      probe: 'heron1',
      boot: 1,
      seq: d * 1440 + i,
      uptimeS: Math.floor((day - days[0]!) / 1000) + i * 60,
      at: day + i * MINUTE,
      placedBy: 'arrival' as const,
      arrivedAt: day + i * MINUTE,
      deviceAt: null,
      flags: 0,
      values: [{ channel: 'phmv', value: Math.round(4000 * random()) / 100 }],
    })),
  )
  await stores.readings.append({ readings, anchors: [], marks: [], quarantined: [] })
  await stores.readings.settle()
  for (let day = 30; day >= 0; day--) {
    await stores.garden.noteStorageDay({
      at: Date.now() - day * DAY,
      usedBytes: 2e9 - day * 1e7,
      freeBytes: 20e9 + day * 2e7,
      totalBytes: 64e9,
      readings: 1000,
    })
  }
  await stores.close()
}

async function command(args: readonly string[], dataDir: string) {
  const child = spawn(process.execPath, ['hub/cli/loamline.mjs', 'storage', ...args], {
    env: {
      ...process.env,
      LOAMLINE_DATA_DIR: dataDir,
      LOAMLINE_HTTP_PORT: new URL(hub.url).port,
    },
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let [out, err] = ['', '']
  child.stdout.on('data', (chunk: Buffer) => (out += chunk.toString()))
  child.stderr.on('data', (chunk: Buffer) => (err += chunk.toString()))
  const [code] = (await once(child, 'close')) as [number | null]
  return { code, out, err }
}

beforeAll(async () => {
  await plant(dir.path)
  await plant(alone.path)
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
  alone[Symbol.dispose]()
})

test.each([
  ['wide', 1280, 900],
  ['phone', 360, 780],
] as const)(
  'what is on the disk, when it is full, and what would go before it goes: %s',
  async (name, width, height) => {
    const { page, complaints } = await openPage(browser, `${hub.url}/settings`, { width, height })
    page.setDefaultTimeout(15_000)
    const part = page.locator('section', {
      has: page.getByRole('heading', { name: 'Storage', exact: true }),
    })
    // 20 GB at 20 MB a day are 1,000 days.
    const sentence = await part.getByTestId('disk-forecast').innerText()
    expect(sentence).toMatch(
      /^At 20 MB a day the disk is full about \w+ \d{4}\..* That was learnt from 30 days; the data folder grows by 10 MB a day\.$/,
    )
    await part.getByText(name === 'wide' ? '4,320 kept whole' : '1,440 kept whole').waitFor()
    await part.getByLabel('for some months, then as hours').check()
    const months = part.getByLabel('Months', { exact: true })
    await months.fill('2')
    await months.press('Enter')
    await part.getByText('expected whole months from 3 to 600').waitFor()
    await months.fill('6')
    await months.press('Enter')
    const would = part.getByTestId('would-thin')
    await would
      .getByText(
        name === 'wide'
          ? /^2880 readings from before .* would become 48 hours of channels/
          : /^Nothing would go/,
      )
      .waitFor()
    await would.getByText(/still corrects them/).waitFor()
    await would.getByRole('link', { name: 'Download a backup first' }).waitFor()
    expect(await axeFaults(page)).toEqual([])
    const over = 'document.documentElement.scrollWidth - document.documentElement.clientWidth'
    expect(await page.evaluate(over)).toBeLessThanOrEqual(0)
    if (SHOTS !== undefined) {
      await mkdir(SHOTS, { recursive: true })
      await page.screenshot({ path: join(SHOTS, `storage-${name}.png`), fullPage: true })
    }
    const make = part.getByRole('button', { name: 'Make hours of them' })
    await make.focus()
    await page.keyboard.press('Enter')
    await part.getByText(/Say that there is a backup/).waitFor()
    expect((await hub.get<StorageView>('/api/storage')).readings!.hours).toBe(
      name === 'wide' ? 0 : 48,
    )
    await part.getByLabel('I have a backup, or want none').focus()
    await page.keyboard.press('Space')
    await make.focus()
    await page.keyboard.press('Enter')
    await part.getByText(/^Begun\./).waitFor()
    await part.getByText('Hours instead of readings').waitFor()
    expect(await hub.get<StorageView>('/api/storage')).toMatchObject({
      retention: { rawMonths: 6 },
      readings: { hours: 48, kept: 1440 },
    })
    await part.getByLabel('for ever', { exact: true }).check()
    await part.getByRole('button', { name: 'Save' }).click()
    await part.getByText('Raw readings are kept for ever.').waitFor()
    expect(complaints).toEqual([])
    await page.close()
  },
  60_000,
)

test('the same by a command, through the hub that runs and on a folder alone', async () => {
  const through = await command([], dir.path)
  expect(through).toMatchObject({ code: 0 })
  expect(through.out).toMatch(/whole readings +1440$/m)
  expect(through.out).toContain('At 20 MB a day the disk is full about')

  const would = await command(['--would-thin', '6'], alone.path)
  expect(would.out).toMatch(/^2880 readings from before/)
  const without = await command(['--keep-raw', '6'], alone.path)
  expect(without).toMatchObject({ code: 2 })
  expect(without.err).toContain('expected --backup-made')
  expect((await command(['--keep-raw', '2'], alone.path)).err).toContain('from 3 to 600')
  const done = await command(['--keep-raw', '6', '--backup-made'], alone.path)
  expect(done.out).toContain('kept for 6 months; 2880 older ones became hours now.')
  expect((await command([], alone.path)).out).toMatch(/hours instead +48/)
  expect((await command(['--compact'], alone.path)).out).toContain('Given back to the disk:')
  const ever = await command(['--keep-raw', 'for-ever'], alone.path)
  expect(ever.out).toBe('Raw readings are kept for ever.\n')
}, 120_000)
