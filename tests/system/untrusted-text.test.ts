import { createServer, type Server } from 'node:http'
import type { AddressInfo } from 'node:net'
import { generate } from 'mqtt-packet'
import { connect } from 'node:net'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { Alarm } from '#hub/model/alarm.ts'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { letterHtml } from '#hub/delivery/words/letter-html.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { openStores } from '#hub/store/open.ts'
import { openBrowser } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { plantPlannedGarden, readPlannedGarden } from '../support/planned-garden.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

/*
 * Markup in every text that a probe, a file or a person can give, looked at on every page. The browser is told to pass
 * over the content security policy: what is shown must be harmless without it.
 */

/** Would be an element, and run a script, if it were taken for markup. */
const PLANTED = '<planted-x><img src=x onerror=ran()>'
/** What fits into the shortest text of a probe, 24 characters. */
const SHORT = '<planted-x><b>'
const SCRIPT = `${PLANTED}<script>ran()</script><svg/onload=ran()>`
const NOW = Date.now()
const PAGES = [
  '/',
  '/bed/1',
  '/bed/1/plan',
  '/bed/1/measure',
  '/bed/1/report',
  '/probes',
  '/probe/her1',
  '/probe/her1/calibrate',
  '/probe/wild1',
  '/journal',
  '/review',
  '/report',
  '/trials',
  '/alarms',
  '/interfaces',
  '/settings',
  '/settings/people',
  '/settings/messages',
  '/data',
  '/sign-in',
  `/${encodeURIComponent(PLANTED)}`,
] as const

const dir = tempDir()
let hub: HubProcess
let browser: Browser
let hooks: Server
let shared: string

async function send(method: 'POST' | 'PUT', path: string, body: unknown): Promise<unknown> {
  const answer = await hub.send(method, path, body)
  const text = await answer.text()
  expect(answer.ok, `${method} ${path}: ${answer.status} ${text}`).toBe(true)
  return text === '' ? null : JSON.parse(text)
}

/** A probe nobody knows, with markup wherever it may say something, and messages that nobody can use. */
async function wildProbe(): Promise<void> {
  const socket = connect(hub.mqttPort, '127.0.0.1')
  const publish = (topic: string, body: unknown, messageId: number): void =>
    void socket.write(
      generate({
        cmd: 'publish',
        topic,
        payload: typeof body === 'string' ? body : JSON.stringify(body),
        qos: 1,
        messageId,
        retain: false,
        dup: false,
      }),
    )
  socket.write(
    generate({ cmd: 'connect', clientId: 'wild1', clean: true, keepalive: 60, protocolId: 'MQTT' }),
  )
  await new Promise((resolve) => socket.once('data', resolve))
  const birth = { p: 1, fw: SHORT, hw: SHORT, b: 1, u: 4, iv: 900, ch: 'ph,m1', x: SHORT }
  publish('lm1/wild1/up/birth', birth, 1)
  publish('lm1/wild1/up/ch/ph', { q: 'ph', u: 'pH', sn: PLANTED.slice(0, 32) }, 2)
  publish('lm1/wild1/up/r', { b: 1, n: 0, u: 60, v: { ph: 6.4, m1: 500 } }, 3)
  publish('lm1/wild1/up/res', { id: 1, ok: false, e: PLANTED }, 4)
  publish('lm1/wild1/up/r', PLANTED, 5)
  publish(`lm1/${PLANTED}/up/r`, '{"b":1}', 6)
  publish(PLANTED, SCRIPT, 7)
  await until(
    'the strange probe is known, and so is what nobody can use',
    async () => {
      const known = await hub.get<ProbeView[]>('/api/probes')
      const rows = await hub.get<unknown[]>('/api/quarantine')
      return known.some(({ id }) => id === 'wild1') && rows.length >= 3
    },
    20_000,
  )
  socket.destroy()
}

async function plantTexts(): Promise<void> {
  await send('PUT', '/api/garden', {
    name: PLANTED,
    zone: 'Europe/Lisbon',
    units: 'metric',
    language: 'en',
  })
  for (const bed of await hub.get<BedView[]>('/api/beds')) {
    const { areaM2, depthM, texture, ownBand } = bed
    const crops = bed.crops.map((crop) => (typeof crop === 'string' ? crop : 'lettuce'))
    await send('PUT', `/api/beds/${bed.id}`, {
      name: `${PLANTED}${bed.id}`,
      areaM2,
      depthM,
      texture,
      crops,
      ownBand,
    })
  }
  for (const spot of [1, 2, 3])
    await send('PUT', `/api/spots/${spot}`, { name: `${PLANTED}s${spot}` })
  await send('PUT', '/api/probes/her1', { name: `${PLANTED}p` })
  const entry = { at: NOW - DAY, kind: 'note', text: SCRIPT }
  await send('POST', '/api/beds/1/journal', entry)
  await send('POST', '/api/beds/1/journal', {
    at: NOW - 20 * DAY,
    kind: 'treatment',
    material: PLANTED,
    amountG: 100,
    text: SCRIPT,
  })
  await send('POST', '/api/trials', {
    claim: SCRIPT,
    direction: 'raises',
    material: PLANTED,
    leastEffect: 0.3,
    treated: [1],
    untreated: [2],
    startsAt: NOW - 10 * DAY,
    days: 120,
  })
  await send('POST', '/api/tokens', { name: PLANTED, scopes: ['read'], endsAt: null })
  const share = (await send('POST', '/api/shares', { name: PLANTED, bedId: 1, endsAt: null })) as {
    readonly secret: string
  }
  shared = share.secret
  const { port } = hooks.address() as AddressInfo
  const route = (await send('POST', '/api/message-routes', {
    name: PLANTED,
    on: true,
    linkBase: null,
    target: {
      way: 'webhook',
      url: `http://127.0.0.1:${port}/${encodeURIComponent(PLANTED)}`,
      privateAllowed: true,
      key: null,
    },
    kinds: null,
    beds: null,
    leastPriority: 'low',
    tells: 'all',
    gatherMin: 0,
    digestAt: null,
    atOnceFrom: 'low',
    quiet: null,
    repeatMin: null,
    escalate: null,
    mostPerHour: 60,
  })) as { readonly id: number }
  await send('POST', `/api/message-routes/${route.id}/test`, undefined)
  const [alarm] = await until(
    'an alarm',
    async () => {
      const all = await hub.get<Pick<Alarm, 'id'>[]>('/api/alarms')
      return all.length > 0 ? all : null
    },
    40_000,
  )
  await send('POST', `/api/alarms/${alarm!.id}/notes`, { note: PLANTED })
}

beforeAll(async () => {
  hooks = createServer((_request, response) => {
    response.writeHead(500, { 'content-type': 'text/html' })
    response.end(SCRIPT)
  })
  await new Promise<void>((resolve) => hooks.listen(0, '127.0.0.1', resolve))
  const from = Math.floor(NOW / HOUR) * HOUR - 30 * DAY
  const stores = await openStores(dir.path, { zone: 'Europe/Lisbon' })
  await plantPlannedGarden(stores, from)
  await readPlannedGarden(stores, from, NOW)
  await stores.close()
  hub = await startHub('start', dir.path)
  await wildProbe()
  await plantTexts()
  browser = await openBrowser()
}, 120_000)
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  hooks?.close()
  dir[Symbol.dispose]()
})

interface Found {
  readonly elements: number
  readonly ran: boolean
  readonly text: string
}

async function openBare(): Promise<Page> {
  const page = await browser.newPage({ bypassCSP: true, serviceWorkers: 'block' })
  page.setDefaultTimeout(10_000)
  await page.addInitScript('window.ran = () => { window.planted = true }')
  return page
}

const look = (page: Page): Promise<Found> =>
  page.evaluate<Found>(`({
    elements: document.querySelectorAll('planted-x, img[src="x"], svg[onload], [onerror], main script').length,
    ran: window.planted === true,
    text: document.body.innerText + [...document.querySelectorAll('input, textarea')].map((i) => i.value).join(' ')
  })`)

test('on no page a text becomes markup or runs, and every page shows it as it is', async () => {
  const page = await openBare()
  const wrong: string[] = []
  const seen: string[] = []
  for (const path of [...PAGES, `/shared/${shared}`]) {
    await page.goto(hub.url + path)
    await page.locator('main h1, main .first-steps, form').first().waitFor()
    await until(
      `nothing is being fetched on ${path}`,
      async () => (await page.locator('main .quiet-line').filter({ hasText: '…' }).count()) === 0,
      30_000,
    )
    // What is folded away is there, too.
    await page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    const { elements, ran, text } = await look(page)
    if (elements > 0 || ran) wrong.push(`${path}: ${elements} elements${ran ? ', run' : ''}`)
    if (text.includes('<planted-x>')) seen.push(path)
  }
  expect(wrong).toEqual([])
  // It is really there to be looked at.
  for (const path of ['/', '/bed/1', '/bed/1/report', '/probes', '/probe/her1', '/probe/wild1']) {
    expect(seen).toContain(path)
  }
  for (const path of ['/journal', '/trials', '/alarms', '/settings', '/settings/messages']) {
    expect(seen).toContain(path)
  }
  expect(seen).toContain(`/shared/${shared}`)
  await page.close()
}, 120_000)

test('a file with markup in its headings and cells is previewed as it is', async () => {
  const page = await openBare()
  await page.goto(`${hub.url}/data`)
  const good = Array.from(
    { length: 12 },
    (_, i) => `2026-05-01T06:${10 + i}:00Z,her1,6.5,${PLANTED}`,
  )
  const bad = `${SCRIPT},${PLANTED},${PLANTED},x`
  const content = [`time,probe,ph,${PLANTED}`, ...good, bad].join('\n')
  await page.locator('input[type=file]').setInputFiles({
    name: `${PLANTED.replaceAll('/', '')}.csv`,
    mimeType: 'text/csv',
    buffer: Buffer.from(content),
  })
  await page.locator('th', { hasText: '<planted-x>' }).first().waitFor()
  await page.getByRole('button', { name: 'Check the whole file' }).click()
  await page
    .getByText(/a time such as/)
    .first()
    .waitFor()
  const { elements, ran } = await look(page)
  expect({ elements, ran }).toEqual({ elements: 0, ran: false })
  await page.close()
})

test('neither a letter, nor the feed, nor an answer of the API opened in the browser makes markup of it', async () => {
  const page = await openBare()
  const letter = {
    subject: SCRIPT,
    lead: SCRIPT,
    places: [
      {
        name: SCRIPT,
        entries: [{ title: SCRIPT, sentence: SCRIPT, advice: SCRIPT, notes: [SCRIPT] }],
      },
    ],
    link: `https://hub.example/"><planted-x onclick=ran()>`,
    foot: [SCRIPT],
  } as unknown as Parameters<typeof letterHtml>[0]
  await page.setContent(letterHtml(letter, SCRIPT))
  expect((await look(page)).elements).toBe(0)
  for (const path of [
    '/api/alarms.atom',
    '/api/calendar.ics',
    '/api/beds',
    '/api/quarantine',
    '/api/journal',
    `/api/beds/${encodeURIComponent(SCRIPT)}`,
    `/sta/v1.1/Things('${encodeURIComponent(SCRIPT)}')`,
    '/api/export/records/journal',
  ]) {
    const answer = await fetch(hub.url + path)
    expect(answer.headers.get('content-type'), path).not.toMatch(/html/)
    expect(answer.headers.get('x-content-type-options'), path).toBe('nosniff')
    expect(answer.headers.get('content-security-policy'), path).toMatch(/default-src 'none'|'self'/)
    if (path.endsWith('.atom')) {
      const text = await answer.text()
      expect(text).toContain('&lt;planted-x&gt;')
      expect(text).not.toContain('<planted-x')
    }
  }
  await page.close()
})
