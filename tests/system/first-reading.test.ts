import { execFileSync } from 'node:child_process'
import { existsSync, readFileSync } from 'node:fs'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startBroker } from '../support/broker.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

/** The very line the README tells a newcomer to run. */
const LINE = readFileSync('README.md', 'utf8').match(/^mosquitto_pub .*-t lm1\/.*$/m)![0]
const LIVE_MS = 2000

/** Runs the README's line against another port, as reading `n` with another pH. */
function publish(port: number, n: number, ph: number): void {
  const line = LINE.replace('-p 1883', `-p ${port}`)
    .replace('"n":0', `"n":${n}`)
    .replace('"ph":6.42', `"ph":${ph}`)
  expect(line).not.toBe(LINE)
  execFileSync('sh', ['-c', line])
}

let browser: Browser
beforeAll(async () => {
  if (!existsSync('/usr/bin/mosquitto_pub')) {
    throw new Error('this test needs mosquitto_pub (Debian: apt-get install mosquitto-clients)')
  }
  browser = await openBrowser()
})
afterAll(async () => {
  await browser?.close()
})

const json = async <T>(response: Promise<Response>): Promise<T> => {
  const r = await response
  expect(r.ok, await r.clone().text()).toBe(true)
  return (await r.json()) as T
}

/** A newcomer's walk: an empty hub, the line of the README, a bed, a spot, the probe taken in. */
async function walk(hub: HubProcess, port: number): Promise<void> {
  const { page, complaints } = await openPage(browser, hub.url, { width: 1280, height: 900 })
  await page
    .getByText(/first bed/i)
    .first()
    .waitFor({ timeout: 10_000 })

  publish(port, 0, 6.41)
  const stranger = await until(
    'the stranger is offered',
    async () =>
      (await hub.get<ProbeView[]>('/api/probes')).find(
        (p) => p.id === 'sill1' && p.channels.some((c) => c.latest !== null),
      ),
    LIVE_MS,
  )
  expect(stranger.adoptedAt).toBeNull()
  expect(stranger.channels.find((c) => c.name === 'ph')).toMatchObject({
    senses: 'ph',
    latest: 6.41,
  })
  await page.getByText('sill1').first().waitFor({ timeout: LIVE_MS })

  const bed = await json<BedView>(
    hub.send('POST', '/api/beds', {
      name: 'Window sill',
      areaM2: 0.4,
      depthM: 0.2,
      texture: 'loam',
      crops: ['lettuce'],
      ownBand: null,
    }),
  )
  const spot = await json<{ id: number }>(
    hub.send('POST', `/api/beds/${bed.id}/spots`, { name: 'middle' }),
  )
  await json(hub.send('PUT', '/api/probes/sill1', { name: 'Sill probe' }))
  await json(
    hub.send('POST', '/api/probes/sill1/placement', {
      spotId: spot.id,
      from: stranger.firstSeenAt,
    }),
  )
  // What it sent as a stranger counts.
  const first = await until(
    'the bed has a pH',
    async () => {
      const view = await hub.get<BedView>(`/api/beds/${bed.id}`)
      return view.spots[0]?.newestPh === 6.41 ? view : undefined
    },
    5000,
  )
  expect(first.spots[0]).toMatchObject({ spot: 'middle', probe: 'sill1' })

  // A new reading is in the API and on the open pages within two seconds, without a reload.
  const bedPage = await openPage(browser, `${hub.url}/bed/${bed.id}`, { width: 1280, height: 900 })
  await bedPage.page.getByText('newest reading 6.41').waitFor({ timeout: 10_000 })
  const garden = page.locator(`[data-bed="${bed.id}"]`).getByTestId('present-ph')
  const shownBefore = await garden.innerText()
  for (const p of [page, bedPage.page]) await p.evaluate('window.neverReloaded = true')
  publish(port, 1, 6.93)
  const sentAt = performance.now()
  const left = (): number => Math.max(1, LIVE_MS - (performance.now() - sentAt))
  await Promise.all([
    until(
      'the reading is in the API',
      async () => (await hub.get<BedView>(`/api/beds/${bed.id}`)).spots[0]?.newestPh === 6.93,
      LIVE_MS,
    ),
    bedPage.page.getByText('newest reading 6.93').waitFor({ timeout: left() }),
    until(
      'the lane of the garden page moved',
      async () => (await garden.innerText()) !== shownBefore,
      LIVE_MS,
    ),
  ])
  for (const p of [page, bedPage.page]) expect(await p.evaluate('window.neverReloaded')).toBe(true)
  expect(bedPage.complaints).toEqual([])
  await bedPage.page.close()

  // The same again is the same reading.
  const before = await hub.get<{ counts: { readings: number } }>('/api/health')
  publish(port, 1, 6.93)
  await until(
    'the duplicate is counted',
    async () =>
      (await hub.get<{ counts: { duplicates: number } }>('/api/health')).counts.duplicates > 0,
    5000,
  )
  const after = await hub.get<{ counts: { readings: number; quarantined: number } }>('/api/health')
  expect(after.counts.readings).toBe(before.counts.readings)
  expect(after.counts.quarantined).toBe(0)
  expect(complaints).toEqual([])
  await page.close()
}

describe("a first reading by the README's words", () => {
  test('with the built-in broker', async () => {
    using dir = tempDir()
    await using hub = await startHub('start', dir.path)
    await walk(hub, hub.mqttPort)
  }, 60_000)

  test('with a broker of one’s own, which may go away and come back', async () => {
    await using cleanUp = new AsyncDisposableStack()
    const broker = await startBroker()
    cleanUp.defer(() => broker.close())
    using dir = tempDir()
    await using hub = await startHub('start', dir.path, {
      LOAMLINE_BROKER_URL: `mqtt://127.0.0.1:${broker.port}`,
    })
    await walk(hub, broker.port)
    await broker.stop()
    await until(
      'the hub says the broker is away',
      async () =>
        (await hub.get<{ broker: { state: string } }>('/api/health')).broker.state !== 'up',
      15_000,
    )
    await broker.start()
    await until(
      'the hub is back',
      async () =>
        (await hub.get<{ broker: { state: string } }>('/api/health')).broker.state === 'up',
      30_000,
    )
    publish(broker.port, 2, 7.05)
    await until(
      'the next reading',
      async () => (await hub.get<BedView[]>('/api/beds'))[0]?.spots[0]?.newestPh === 7.05,
      5000,
    )
  }, 90_000)
})

describe('starting and stopping', () => {
  test('a second hub on the same data folder refuses in one line, exit code 2', async () => {
    using dir = tempDir()
    await using hub = await startHub('start', dir.path)
    expect(hub.pid).toBeGreaterThan(0)
    await expect(startHub('start', dir.path)).rejects.toThrow(/ended \(2\)[^]*HUB_STORE_LOCKED/)
  }, 40_000)

  test('a taken port and a bad setting are one clear line, exit code 2', async () => {
    using dir = tempDir()
    using other = tempDir()
    await using hub = await startHub('start', dir.path)
    await expect(startHub('start', other.path, { LOAMLINE_HTTP_PORT: 'many' })).rejects.toThrow(
      /ended \(2\)[^]*LOAMLINE_HTTP_PORT: expected a whole number/,
    )
    await expect(
      startHub('start', other.path, { LOAMLINE_MQTT_PORT: String(hub.mqttPort) }),
    ).rejects.toThrow(/ended \(2\)[^]*HUB_PORT_IN_USE[^]*LOAMLINE_MQTT_PORT/)
  }, 60_000)

  test('records and readings are there after a restart', async () => {
    using dir = tempDir()
    const hub = await startHub('start', dir.path)
    publish(hub.mqttPort, 0, 6.41)
    await until(
      'stored',
      async () => (await hub.get<ProbeView[]>('/api/probes')).length === 1,
      5000,
    )
    await hub.send('PUT', '/api/garden', {
      name: 'Gorse Hollow',
      zone: 'Europe/Lisbon',
      units: 'us',
    })
    expect(await hub.end('SIGTERM')).toBe(0)
    await using again = await startHub('start', dir.path)
    expect(await again.get('/api/garden')).toEqual({
      name: 'Gorse Hollow',
      zone: 'Europe/Lisbon',
      units: 'us',
      language: 'en',
    })
    const [probe] = await again.get<ProbeView[]>('/api/probes')
    expect(probe!.channels.find((c) => c.name === 'ph')!.latest).toBe(6.41)
  }, 60_000)
})
