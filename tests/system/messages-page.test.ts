import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, test, vi } from 'vitest'
import type { RouteView } from '#hub/api/schemas/message.ts'
import { fillWithAlarms } from '../support/alarms-to-tell.ts'
import { axeFaults } from '../support/axe-faults.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { startMailServer, type MailServer } from '../support/mail-server.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const SHOTS = process.env['SCREENSHOTS']
const WIDE = { width: 1280, height: 900 }
const PHONE = { width: 360, height: 780 }

let browser: Browser
let hub: HubProcess
let mail: MailServer
let page: Page
let complaints: readonly string[]
const dir = tempDir()

beforeAll(async () => {
  mail = await startMailServer()
  await fillWithAlarms(dir.path, [], 2)
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  ;({ page, complaints } = await openPage(browser, `${hub.url}/settings`, WIDE))
  page.setDefaultTimeout(10_000)
}, 60_000)
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  await mail?.stop()
  dir[Symbol.dispose]()
})

/** The page at both widths: nothing hangs over, axe finds nothing serious; pictures when they are asked for. */
async function look(name: string): Promise<void> {
  for (const size of [WIDE, PHONE]) {
    await page.setViewportSize(size)
    const wide = await page.evaluate('document.documentElement.scrollWidth')
    expect(wide, `${name} at ${size.width}`).toBeLessThanOrEqual(size.width)
    expect(await axeFaults(page), `${name} at ${size.width}`).toEqual([])
    if (SHOTS === undefined) continue
    const path = join(SHOTS, `messages-${name}-${size.width}.png`)
    await page.screenshot({ path, fullPage: true })
  }
  await page.setViewportSize(WIDE)
}
const routes = (): Promise<RouteView[]> => hub.get('/api/message-routes')
const sheet = (name: string) =>
  page.locator('section.sheet', { has: page.getByRole('heading', { name, exact: true }) })

test('an e-mail route is made by keyboard, tried out, and says what the server answered', async () => {
  await page.getByRole('link', { name: 'Messages' }).click()
  await page.getByText('There is no route yet').waitFor()
  await look('none')
  await page.getByRole('button', { name: 'Add a route' }).focus()
  await page.keyboard.press('Enter')
  const form = page.getByRole('form', { name: 'New route' })
  const type = async (label: string, text: string): Promise<void> => {
    await form.getByLabel(label, { exact: true }).focus()
    await page.keyboard.press('Control+A')
    await page.keyboard.type(text)
  }
  await type('Name of the route', 'Kitchen')
  await type('To', 'beds@garden.example')
  await type('Sender', 'hub@garden.example')
  await type('Mail server', '127.0.0.1')
  await type('Port', String(mail.port))
  await form.getByLabel('Connection').selectOption('none')
  await form.getByLabel('Gather what happens in a bed for').fill('half')
  await page.keyboard.press('Enter')
  await form.getByText('expected a whole number').waitFor()
  await look('form')
  await type('Gather what happens in a bed for', '0')
  await page.keyboard.press('Enter')
  await sheet('Kitchen').getByText('E-mail to beds@garden.example, by 127.0.0.1').waitFor()
  await sheet('Kitchen').getByText('Alarms of high urgency at once, the rest at 07:00.').waitFor()
  expect(await routes()).toMatchObject([
    { name: 'Kitchen', linkBase: hub.url, quiet: { from: '22:00', to: '07:00' }, gatherMin: 0 },
  ])
  await sheet('Kitchen').getByRole('button', { name: 'Send a test message' }).press('Enter')
  await sheet('Kitchen').getByText('The other side took it and answered: 250 taken').waitFor()
  expect(mail.mails.at(-1)!.headers.get('subject')).toMatch(/^Test message of/)
  await mail.stop()
  await sheet('Kitchen').getByRole('button', { name: 'Send a test message' }).press('Enter')
  await sheet('Kitchen').getByText('It did not arrive: connect ECONNREFUSED').waitFor()
  await look('tested')
}, 60_000)

test('a message that could not be sent stands there with its next try, and goes when it is told to', async () => {
  // Acknowledged on the page: news for a route that tells everything.
  const [route] = await routes()
  const { target, id } = route!
  await hub.send('PUT', `/api/message-routes/${id}`, {
    ...route,
    target,
    tells: 'all',
    quiet: null,
  })
  await hub.send('POST', '/api/alarms/1/acknowledge')
  await sheet('Kitchen').getByText('not sent: connect ECONNREFUSED').waitFor()
  await sheet('The last messages').getByText('Bed 1: Harmful shift').waitFor()
  await look('failed')
  await mail.start()
  await sheet('Kitchen').getByRole('button', { name: 'Try now' }).click()
  await sheet('The last messages').getByText('Answer: 250 taken').waitFor()
  await until('it came', () => mail.mails.some(({ text }) => text.includes('Bed 1: rose.')))
  const told = mail.mails.filter(({ text }) => text.includes('Bed 1: rose.'))
  expect(told).toHaveLength(1)
  expect(told[0]!.text).toContain(`${hub.url}/bed/1`)
}, 60_000)

test('a route is paused, changed and removed', async () => {
  await sheet('Kitchen').getByRole('button', { name: 'Pause for a day' }).click()
  await sheet('Kitchen').getByText('paused until').waitFor()
  await sheet('Kitchen').getByRole('button', { name: 'End the pause' }).click()
  await sheet('Kitchen').getByRole('button', { name: 'Pause for a day' }).waitFor()
  await sheet('Kitchen').getByRole('button', { name: 'Change' }).click()
  const form = page.getByRole('form', { name: "Change 'Kitchen'" })
  await form.getByText('Only some kinds, or only some beds').click()
  await form.getByLabel('dry soil').uncheck()
  await form.getByLabel('Only some beds').check()
  await form.getByLabel('Bed 2').uncheck()
  await form.getByLabel('Most messages an hour').fill('0')
  await form.getByRole('button', { name: 'Save' }).click()
  await form.getByText('a number of at least 1').waitFor()
  await form.getByLabel('Most messages an hour').fill('3')
  await look('change')
  await form.getByRole('button', { name: 'Save' }).click()
  await sheet('Kitchen').getByText('Only of: Bed 1.').waitFor()
  const [route] = await routes()
  expect(route).toMatchObject({ beds: [1], mostPerHour: 3 })
  expect(route!.kinds).not.toContain('dry')
  await sheet('Kitchen').getByRole('button', { name: 'Remove' }).click()
  await sheet('Kitchen').getByRole('button', { name: 'Yes, remove' }).click()
  await page.getByText('There is no route yet').waitFor()
  expect(await routes()).toEqual([])
}, 60_000)

test('this browser takes messages where it can; where it cannot, the page says why', async () => {
  const given = {
    endpoint: 'https://push.example/send/this-browser',
    keys: {
      p256dh: Buffer.alloc(65, 4).toString('base64url'),
      auth: Buffer.alloc(16, 7).toString('base64url'),
    },
  }
  // A service of a browser's maker is out of reach here: what it answers is put in its place.
  await page.evaluate(`
    Object.defineProperty(navigator.serviceWorker, 'ready', { value: Promise.resolve({
      pushManager: { subscribe: async ({ applicationServerKey }) => {
        window.keyGiven = applicationServerKey.length
        return { toJSON: () => (${JSON.stringify(given)}) }
      } },
    }) })`)
  await page.getByRole('button', { name: 'Add a route' }).click()
  const form = page.getByRole('form', { name: 'New route' })
  await form.getByText('This browser', { exact: true }).click()
  await form.getByLabel('Name of the route').fill('Old phone')
  await form.getByRole('button', { name: 'Let this browser take messages' }).click()
  await form.getByText('This browser takes messages by push.example.').waitFor()
  // An uncompressed point on P-256, as RFC 8292 wants it.
  expect(await page.evaluate('window.keyGiven')).toBe(65)
  await look('push')
  await form.getByRole('button', { name: 'Save' }).click()
  await sheet('Old phone').getByText('A browser, by push.example').waitFor()
}, 60_000)

test('what is pushed is shown by the browser, and leads into the pages of the hub alone', async () => {
  // With the worker, which pages of the other tests go without.
  await using context = await browser.newContext({ permissions: ['notifications'] })
  const page = await context.newPage()
  await page.goto(hub.url)
  const devtools = await context.newCDPSession(page)
  let registrationId = ''
  devtools.on('ServiceWorker.workerRegistrationUpdated', ({ registrations }) => {
    registrationId = registrations[0]?.registrationId ?? registrationId
  })
  await devtools.send('ServiceWorker.enable')
  await until('the worker is at work and known', async () => {
    const state = await page.evaluate('navigator.serviceWorker.ready.then((r) => r.active.state)')
    return state === 'activated' && registrationId !== ''
  })
  const push = (data: string) =>
    devtools.send('ServiceWorker.deliverPushMessage', { origin: hub.url, registrationId, data })
  const shown = () =>
    page.evaluate<{ title: string; body: string; tag: string; path: string }[]>(
      `navigator.serviceWorker.getRegistration()
        .then((r) => r.getNotifications())
        .then((all) => all.map(({ title, body, tag, data }) => ({ title, body, tag, ...data })))`,
    )
  const message = { title: 'Bed 1: Harmful shift', body: 'It rose.', tag: 'a', path: '/bed/1' }
  await push(JSON.stringify(message))
  await until('it is shown', async () => (await shown()).length === 1, 20_000)
  // The same once more, as a possible repeat: it takes the place of the first.
  await push(JSON.stringify({ ...message, body: 'This may be a repeat. It rose.' }))
  const repeated = { ...message, body: 'This may be a repeat. It rose.' }
  // The browser may show both for a moment.
  await vi.waitFor(async () => expect(await shown()).toEqual([repeated]), 20_000)
  // Nothing that can be read: the browser still wants to be shown something.
  await push('no JSON')
  await vi.waitFor(
    async () => expect((await shown()).map((s) => s.tag)).toContain('unread'),
    20_000,
  )
  await devtools.detach()
}, 90_000)

interface AtomRead {
  readonly fault: string | null
  readonly root: string
  readonly entries: readonly {
    readonly id: string
    readonly title: string
    readonly updated: string
  }[]
  readonly authors: number
}

test('the feed is XML as Atom wants it', async () => {
  const found = await page.evaluate<AtomRead>(`(async () => {
    const text = await (await fetch('/api/alarms.atom')).text()
    const xml = new DOMParser().parseFromString(text, 'application/xml')
    const all = (name) => [...xml.getElementsByTagNameNS('http://www.w3.org/2005/Atom', name)]
    const member = (entry, name) => entry.getElementsByTagName(name)[0]?.textContent ?? ''
    return {
      fault: xml.querySelector('parsererror')?.textContent ?? null,
      root: xml.documentElement.localName,
      entries: all('entry').map((entry) => ({
        id: member(entry, 'id'), title: member(entry, 'title'), updated: member(entry, 'updated'),
      })),
      authors: all('author').length,
    }
  })()`)
  expect(found).toMatchObject({ fault: null, root: 'feed', authors: 1 })
  // RFC 4287, 4.1.2: each entry has an id, a title and a time.
  expect(found.entries).toHaveLength(2)
  for (const { id, title, updated } of found.entries) {
    expect(id).toMatch(/^urn:uuid:/)
    expect(title).toMatch(/^Bed \d, Harmful shift: /)
    expect(Date.parse(updated)).not.toBeNaN()
  }
  expect(complaints.filter((line) => !line.includes('400'))).toEqual([])
})
