import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { writeFileSync } from 'node:fs'
import { mkdir } from 'node:fs/promises'
import { join } from 'node:path'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { JobView } from '#hub/api/schemas/job.ts'
import { axeFaults } from '../support/axe-faults.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'

const SHOTS = process.env['SCREENSHOTS']
let browser: Browser
let hub: HubProcess
const dir = tempDir()
const files = tempDir()

/** Runs a command of the hub on a data folder; interrupts it once it says this on stderr. */
async function command(
  args: readonly string[],
  dataDir: string,
  interruptAt: RegExp | null = null,
) {
  const child = spawn(process.execPath, ['hub/cli/loamline.mjs', ...args], {
    env: {
      ...process.env,
      LOAMLINE_DATA_DIR: dataDir,
      LOAMLINE_HTTP_PORT: new URL(hub.url).port,
    },
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let [out, err, sent] = ['', '', false]
  child.stdout.on('data', (chunk: Buffer) => (out += chunk.toString()))
  child.stderr.on('data', (chunk: Buffer) => {
    err += chunk.toString()
    if (interruptAt?.test(err) === true && !sent) {
      sent = true
      child.kill('SIGINT')
    }
  })
  const [code] = (await once(child, 'close')) as [number | null]
  return { code, out, err }
}

function table(rows: number): string {
  const file = join(files.path, `${rows}.csv`)
  const at = Date.UTC(2026, 0, 1)
  const lines = Array.from(
    { length: rows },
    (_, i) => `${new Date(at + i * 60_000).toISOString()},fern1,${i % 50}`,
  )
  writeFileSync(file, ['time,probe,phmv (mV)', ...lines].join('\n'))
  return file
}

beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
})
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
  files[Symbol.dispose]()
})

test('a command says how far it is, through the hub that runs as on the folder alone', async () => {
  const file = table(20_000)
  const through = await command(['import', file], dir.path)
  expect(through.err + through.out).toContain('20000 stored now')
  expect(through.code).toBe(0)
  const rebuilt = await command(['rebuild'], dir.path)
  expect(rebuilt).toMatchObject({ code: 0 })
  expect(rebuilt.out).toMatch(/made anew: 14 days/)
  const [newest] = await hub.get<JobView[]>('/api/jobs')
  expect(newest).toMatchObject({ kind: 'rebuild', state: 'done' })

  using alone = tempDir()
  // Given up while it stores: what stays is said, and the same file brings the rest.
  const given = await command(['import', file], alone.path, /60 % of the file\n/)
  expect(given.code).toBe(130)
  const said = /Given up: (\d+) of 20000 new readings are stored/.exec(given.err)
  expect(said, given.err).not.toBeNull()
  const rest = await command(['import', file], alone.path)
  expect(rest.out).toContain(`${20_000 - Number(said![1])} stored now`)
  // A line for every tenth, where nobody looks on.
  expect(
    rest.err.split('\n').filter((line) => / % of the file$/.test(line)).length,
  ).toBeGreaterThan(3)
  const early = await command(['import', table(60_000)], alone.path, /10 % of the file\n/)
  expect(early).toMatchObject({ code: 130 })
  expect(early.err).toContain('Given up: nothing was stored.')
}, 120_000)

test.each([
  ['wide', 1280, 900],
  ['phone', 360, 780],
] as const)(
  'long work is begun, seen and given up on the page: %s',
  async (name, width, height) => {
    const { page, complaints } = await openPage(browser, `${hub.url}/data`, { width, height })
    page.setDefaultTimeout(15_000)
    const part = page.locator('section', { has: page.getByRole('heading', { name: 'Long work' }) })
    await part.getByRole('button', { name: 'Make hours and days anew' }).focus()
    await page.keyboard.press('Enter')
    await part
      .getByText(/Done: 14 days of series made anew\./)
      .first()
      .waitFor()

    // Half-way, as the hub tells of it: seen on every page, and given up from the keyboard.
    const job: JobView = {
      id: 999,
      kind: 'import',
      by: 'Ash',
      startedAt: Date.now() - 20_000,
      share: 0.4,
      leftMs: 30_000,
      state: 'running',
      endedAt: null,
      reason: null,
      kept: null,
      done: null,
      replayed: null,
    }
    let asked = 0
    await page.route('**/api/jobs', (route) => route.fulfill({ json: [job] }))
    await page.route('**/api/jobs/999/cancel', (route) => {
      asked++
      return route.fulfill({ json: { ...job, state: 'cancelling' } })
    })
    await page.goto(`${hub.url}/`)
    const line = page.getByTestId('job-line')
    await line.getByText(/40 % done, about 30 s more\./).waitFor()
    await line.getByRole('link', { name: 'Import of a file' }).click()
    await part.getByRole('progressbar', { name: 'Import of a file' }).waitFor()
    expect(await axeFaults(page)).toEqual([])
    const over = 'document.documentElement.scrollWidth - document.documentElement.clientWidth'
    expect(await page.evaluate(over)).toBeLessThanOrEqual(0)
    if (SHOTS !== undefined) {
      await mkdir(SHOTS, { recursive: true })
      await page.screenshot({ path: join(SHOTS, `jobs-${name}.png`), fullPage: true })
    }
    await part.getByRole('button', { name: 'Give it up' }).focus()
    await page.keyboard.press('Enter')
    await expect.poll(() => asked).toBe(1)
    expect(complaints).toEqual([])
    await page.close()
  },
  60_000,
)
