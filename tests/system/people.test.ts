import { execFile } from 'node:child_process'
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { promisify } from 'node:util'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { axeFaults } from '../support/axe-faults.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const WIDE = { width: 1280, height: 900 }
const PHONE = { width: 360, height: 780 }
const SHOTS = process.env['SCREENSHOTS']
const PASSWORD = 'worms like rain'
const NEW_PASSWORD = 'snails like rain'
const VIEWER_PASSWORD = 'only looking here'

let browser: Browser
let hub: HubProcess
let dir: ReturnType<typeof tempDir>
let bed: number
/** Signed in as the owner on a wide screen all along. */
let page: Page
let complaints: readonly string[]

beforeAll(async () => {
  dir = tempDir()
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  if (SHOTS !== undefined) mkdirSync(SHOTS, { recursive: true })
  const made = await hub.send('POST', '/api/beds', {
    name: 'Long bed',
    areaM2: 3,
    depthM: 0.3,
    texture: 'loam',
    crops: ['tomato'],
    ownBand: null,
  })
  bed = ((await made.json()) as { id: number }).id
  await hub.send('POST', '/api/beds', {
    name: 'Secret bed',
    areaM2: 1,
    depthM: 0.3,
    texture: 'loam',
    crops: [],
    ownBand: null,
  })
  ;({ page, complaints } = await openPage(browser, 'about:blank', WIDE))
  page.setDefaultTimeout(15_000)
}, 90_000)
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir?.[Symbol.dispose]()
})

const shot = async (of: Page, name: string): Promise<void> => {
  if (SHOTS !== undefined) await of.screenshot({ path: join(SHOTS, `${name}.png`), fullPage: true })
}
const sideways = (of: Page): Promise<number> =>
  of.evaluate<number>('document.documentElement.scrollWidth - document.documentElement.clientWidth')

/** Looks at a page at both widths: nobody is shut out, nothing has to be pushed sideways. */
async function judge(of: Page, name: string): Promise<void> {
  for (const [width, size] of [
    ['wide', WIDE],
    ['phone', PHONE],
  ] as const) {
    await of.setViewportSize(size)
    await shot(of, `${name}-${width}`)
    expect(await axeFaults(of), `${name}, ${width}`).toEqual([])
    expect(await sideways(of), `${name}, ${width}`).toBeLessThanOrEqual(0)
  }
  await of.setViewportSize(WIDE)
}

async function signIn(of: Page, name: string, password: string): Promise<void> {
  await of.getByLabel('Name').fill(name)
  await of.getByLabel('Password', { exact: true }).fill(password)
  await of.getByRole('button', { name: 'Sign in' }).click()
}

describe('the owner', () => {
  test('is made on the page of people, and the pages ask everybody else to sign in', async () => {
    await page.goto(`${hub.url}/settings/people`)
    await page.getByRole('heading', { name: 'Nobody owns this hub yet' }).waitFor()
    await page.locator('main').getByRole('link', { name: 'Make the owner' }).click()
    await page.getByRole('heading', { name: 'Make the owner' }).waitFor()
    await judge(page, 'make-owner')
    await page.getByLabel('Name').fill('Ash')
    await page.getByLabel('Password', { exact: true }).fill('short')
    await page.getByRole('button', { name: 'Make the owner' }).click()
    await page.getByText('expected at least 10 characters').waitFor()
    await page.getByLabel('Password', { exact: true }).fill(PASSWORD)
    await page.getByRole('button', { name: 'Make the owner' }).click()
    await page.getByRole('heading', { name: 'People', exact: true }).waitFor()
    expect(new URL(page.url()).pathname).toBe('/settings/people')
    await page.getByText('Signed in as Ash').waitFor()
    expect((await fetch(`${hub.url}/api/beds`)).status).toBe(401)
  }, 90_000)

  test('signs out, and comes back to the page they were on', async () => {
    await page.goto(`${hub.url}/bed/${bed}`)
    await page.getByRole('heading', { name: 'Long bed', level: 1 }).waitFor()
    await page.getByRole('button', { name: 'Sign out' }).click()
    // Whatever else the page asks for may be refused, and lead there, before it has gone there itself.
    await page.waitForURL(`${hub.url}/sign-in`)
    await page.getByRole('heading', { name: 'Sign in' }).waitFor()
    await page.goto(`${hub.url}/bed/${bed}`)
    await page.getByRole('heading', { name: 'Sign in' }).waitFor()
    await judge(page, 'sign-in')
    await signIn(page, 'Ash', 'not this one')
    await page.getByText('The name or the password is not right.').waitFor()
    await signIn(page, 'ash', PASSWORD)
    await page.getByRole('heading', { name: 'Long bed', level: 1 }).waitFor()
    expect(new URL(page.url()).pathname).toBe(`/bed/${bed}`)
  }, 90_000)

  test('adds a viewer', async () => {
    await page.goto(`${hub.url}/settings/people`)
    await page.getByRole('button', { name: 'Add somebody' }).click()
    const form = page.getByRole('form', { name: 'Add somebody' })
    await form.getByLabel('Name').fill('Robin')
    await form.getByLabel('First password', { exact: true }).fill(VIEWER_PASSWORD)
    await form.getByRole('button', { name: 'Add', exact: true }).click()
    await page.getByRole('heading', { name: 'Robin' }).waitFor()
    await judge(page, 'people')
  }, 60_000)

  test('makes a token, which a program uses; taken back it opens nothing', async () => {
    await page.getByRole('button', { name: 'Make a token' }).click()
    const form = page.getByRole('form', { name: 'Make a token' })
    await form.getByLabel('What it is for').fill('watering can')
    await form.getByRole('button', { name: 'Make a token' }).click()
    const token = await page.getByTestId('shown-once').textContent()
    const curl = async (...args: readonly string[]): Promise<string> => {
      const { stdout } = await promisify(execFile)('curl', [
        '-s',
        '-o',
        '/dev/null',
        '-w',
        '%{http_code}',
        '-H',
        `Authorization: Bearer ${token ?? ''}`,
        ...args,
      ])
      return stdout
    }
    expect(await curl(`${hub.url}/api/beds`)).toBe('200')
    expect(await curl('-X', 'DELETE', `${hub.url}/api/beds/${bed}`)).toBe('403')
    expect(await curl(`${hub.url}/api/backup.tar`)).toBe('403')
    await page.reload()
    const row = page.locator('li.person', { hasText: 'watering can' })
    await row.getByText('last used').waitFor()
    expect(await page.getByTestId('shown-once').count()).toBe(0)
    await row.getByRole('button', { name: 'Take back' }).click()
    await row.getByRole('button', { name: /^Yes/ }).click()
    await row.waitFor({ state: 'detached' })
    expect(await curl(`${hub.url}/api/beds`)).toBe('401')
  }, 60_000)
})

describe('a viewer', () => {
  test('looks at every page and is offered nothing that would be refused', async () => {
    const seen = await openPage(browser, `${hub.url}/sign-in`, WIDE)
    const viewer = seen.page
    viewer.setDefaultTimeout(15_000)
    const refused: string[] = []
    viewer.on('response', (response) => {
      if (response.status() === 403)
        refused.push(`${response.request().method()} ${response.url()}`)
    })
    await viewer.getByLabel('Name').fill('Robin')
    await viewer.getByLabel('Password', { exact: true }).fill(VIEWER_PASSWORD)
    await viewer.getByRole('button', { name: 'Sign in' }).click()
    await viewer.getByText('Signed in as Robin').waitFor()
    const paths = [
      '/',
      `/bed/${bed}`,
      `/bed/${bed}/plan`,
      '/probes',
      '/journal',
      '/review',
      '/trials',
      '/alarms',
      '/settings',
      '/settings/people',
      '/data',
      '/bed/new',
      `/bed/${bed}/measure`,
      '/settings/messages',
    ]
    for (const path of paths) {
      await viewer.goto(hub.url + path)
      await viewer.locator('main h1').first().waitFor()
      await until('nothing is being fetched', async () =>
        (await viewer.locator('main .quiet-line').filter({ hasText: '…' }).count()) === 0
          ? true
          : undefined,
      )
      // Every button and every form that can be seen is used: what may not be done is not there.
      const buttons = viewer.locator('main button:visible')
      for (let i = 0; i < (await buttons.count()) && i < 30; i++) {
        const name = (await buttons.nth(i).textContent()) ?? ''
        // What needs a form filled in is another matter.
        if (/Set the password|Print/.test(name)) continue
        await buttons
          .nth(i)
          .click({ timeout: 3000 })
          .catch(() => undefined)
      }
      // Asked after all that was clicked: then that has been answered, too.
      await viewer.evaluate<unknown>("fetch('/api/who').then((answer) => answer.text())")
      await shot(viewer, `viewer${path.replaceAll('/', '-')}`)
      expect(refused, path).toEqual([])
    }
    await viewer.goto(`${hub.url}/bed/${bed}`)
    await viewer.getByRole('heading', { name: 'Long bed', level: 1 }).waitFor()
    for (const name of ['Change the bed', 'Write an entry', 'Retire']) {
      expect(await viewer.getByRole('button', { name }).count(), name).toBe(0)
    }
    expect(seen.complaints).toEqual([])
    // The hub holds it, whatever a page offers.
    const tried = await viewer.evaluate<number>(
      `fetch('/api/beds/${bed}', { method: 'DELETE' }).then((answer) => answer.status)`,
    )
    expect(tried).toBe(403)
    await viewer.close()
  }, 180_000)
})

describe('a shared bed', () => {
  test('is seen by whoever has the link, alone and at both widths, until it is taken back', async () => {
    await page.goto(`${hub.url}/settings/people`)
    await page.getByRole('button', { name: 'Share a bed' }).click()
    const form = page.getByRole('form', { name: 'Share a bed' })
    await form.getByLabel('For whom').fill('Elm next door')
    await form.getByRole('button', { name: 'Make the link' }).click()
    const link = (await page.getByTestId('shown-once').textContent()) ?? ''
    expect(link).toMatch(/^http:\/\/127\.0\.0\.1:\d+\/shared\/[\w-]{43}$/)
    const context = await browser.newContext({ viewport: WIDE })
    const guest = await context.newPage()
    guest.setDefaultTimeout(15_000)
    const asked: string[] = []
    guest.on('request', (request) => asked.push(new URL(request.url()).pathname))
    await guest.goto(link)
    await guest.getByRole('heading', { name: 'Long bed' }).waitFor()
    await judge(guest, 'shared')
    expect(await guest.locator('nav, header, a').count(), 'a way out of it').toBe(0)
    expect(await guest.content()).not.toContain('Secret bed')
    const outside = asked.filter(
      (path) => path.startsWith('/api/') && !path.startsWith('/api/shared/'),
    )
    expect(outside).toEqual([])
    expect(await context.cookies()).toEqual([])
    for (const path of ['/api/beds', '/api/live', '/api/health', `/api/beds/${bed}`]) {
      expect((await guest.request.get(hub.url + path)).status(), path).toBe(401)
    }

    const row = page.locator('li.person', { hasText: 'Elm next door' })
    await row.getByRole('button', { name: 'Take back' }).click()
    await row.getByRole('button', { name: /^Yes/ }).click()
    await row.waitFor({ state: 'detached' })
    await guest.reload()
    await guest.getByRole('heading', { name: 'Nothing to see' }).waitFor()
    await context.close()
  }, 90_000)
})

describe('later', () => {
  test('a session that is ended elsewhere sends its page to signing in, and back', async () => {
    const second = await openPage(browser, `${hub.url}/sign-in?to=/probes`, WIDE)
    await signIn(second.page, 'Ash', PASSWORD)
    await second.page.getByRole('heading', { name: 'Probes', level: 1 }).waitFor()
    await page.goto(`${hub.url}/settings/people`)
    const mine = page
      .locator('li.person')
      .filter({ has: page.getByRole('heading', { name: /^Ash/ }) })
    await mine.getByRole('button', { name: 'End this' }).first().click()
    await second.page.getByRole('heading', { name: 'Sign in' }).waitFor({ timeout: 30_000 })
    expect(new URL(second.page.url()).search).toBe('?to=%2Fprobes')
    await second.page.close()
  }, 90_000)

  test('a forgotten password is set at the machine while the hub runs; a restart ends no session', async () => {
    const args = ['hub/cli/loamline.mjs', 'owner']
    const env = {
      PATH: process.env['PATH'],
      LOAMLINE_DATA_DIR: dir.path,
      LOAMLINE_HTTP_PORT: new URL(hub.url).port,
    }
    const child = promisify(execFile)(process.execPath, args, { env })
    child.child.stdin?.end(`${NEW_PASSWORD}\n`)
    expect((await child).stdout).toContain('Ash has a new password')
    await page.goto(`${hub.url}/`)
    await page.getByRole('heading', { name: 'Sign in' }).waitFor()
    await signIn(page, 'Ash', NEW_PASSWORD)
    await page.getByText('Signed in as Ash').waitFor()
    const { port } = new URL(hub.url)
    expect(await hub.end()).toBe(0)
    hub = await startHub('start', dir.path, { LOAMLINE_HTTP_PORT: port })
    await page.goto(`${hub.url}/settings/people`)
    await page.getByText('Signed in as Ash').waitFor()
    // Signed out, let in or without a hub, no page threw anything; the browser notes refusals and losses itself.
    const rest = complaints.filter((one) => !/4\d\d \(|net::ERR_|^request failed/.test(one))
    expect(rest).toEqual([])
  }, 120_000)
})
