import { execFileSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Alarm } from '#hub/api/schemas/alarm.ts'
import type { BedSeries, BedView } from '#hub/api/schemas/bed.ts'
import type { Decision } from '#hub/api/schemas/planning.ts'
import type { Health } from '#hub/api/schemas/health.ts'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { until } from '../support/until.ts'

const DAY = 86_400_000
/** Where screenshots go when somebody wants to look at them. */
const SHOTS = process.env['SCREENSHOTS']

let hub: HubProcess
let browser: Browser
let dir = ''
let startedAt = 0

beforeAll(async () => {
  dir = mkdtempSync(join(tmpdir(), 'loamline-demo-'))
  startedAt = Date.now()
  hub = await startHub('demo', dir, { LOAMLINE_DEMO_EVENT_AFTER_S: '5' })
  browser = await openBrowser()
}, 60_000)
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  rmSync(dir, { recursive: true, force: true })
})

describe('the demo garden', () => {
  test('within 60 s of the start at least six beds have a current pH', async () => {
    const beds = await until(
      'six beds with a pH',
      async () => {
        const all = await hub.get<BedView[]>('/api/beds')
        return all.filter((b) => b.ph.status === 'ok').length >= 6 ? all : undefined
      },
      60_000 - (Date.now() - startedAt),
    )
    for (const bed of beds) {
      expect(bed.sentence.length).toBeGreaterThan(10)
      if (bed.ph.status === 'ok') {
        expect(bed.ph.value).toBeGreaterThan(3.5)
        expect(bed.ph.value).toBeLessThan(9)
        expect(bed.ph.halfWidth).toBeGreaterThan(0)
      }
    }
  }, 70_000)

  test('no harmful shift stands before the event, at least sixteen probes of ours and a stranger', async () => {
    const probes = await hub.get<ProbeView[]>('/api/probes')
    expect(probes.filter((p) => p.adoptedAt !== null).length).toBeGreaterThanOrEqual(16)
    await until(
      'a stranger',
      async () => (await hub.get<ProbeView[]>('/api/probes')).some((p) => p.adoptedAt === null),
      30_000,
    )
  }, 40_000)

  test('the first bed has eighteen months of pH, moisture and temperature', async () => {
    const [bed] = await hub.get<BedView[]>('/api/beds')
    const to = Date.now()
    for (const quantity of ['ph', 'moisture', 'temperature']) {
      const series = await hub.get<BedSeries>(
        `/api/beds/${bed!.id}/series?quantity=${quantity}&from=${to - 548 * DAY}&to=${to}&points=500&spots=true`,
      )
      const known = series.value.filter((v) => v !== null)
      expect(known.length, quantity).toBeGreaterThan(series.time.length * 0.5)
      expect(series.time[0]!, quantity).toBeLessThan(to - 500 * DAY)
      expect(series.spots.length).toBeGreaterThan(0)
    }
  })

  test('within 3 minutes of the start a harmful shift is raised, live on the open page', async () => {
    const { page, complaints } = await openPage(browser, hub.url, { width: 1280, height: 900 })
    const alarm = await until(
      'a harmful shift',
      async () =>
        (await hub.get<Alarm[]>('/api/alarms?open=true')).find((a) => a.kind === 'harmful-shift'),
      180_000 - (Date.now() - startedAt),
    )
    expect(alarm.state).toBe('unacknowledged')
    expect(Math.abs(alarm.evidence.change!)).toBeGreaterThan(1)
    expect(alarm.evidence.spotsMoved.length).toBeGreaterThanOrEqual(2)
    expect(alarm.evidence.sureness).toBeGreaterThan(0.5)
    expect(alarm.advice.length).toBeGreaterThan(40)
    await page.locator(`[data-alarm="${alarm.id}"]`).waitFor({ timeout: 5000 })
    // It stands on the broker too, for whoever asks later.
    const retained = execFileSync(
      'mosquitto_sub',
      [
        '-p',
        String(hub.mqttPort),
        '-t',
        'lm1/hub/alerts/+/harmful-shift',
        '-C',
        '1',
        '-W',
        '5',
        '-v',
      ],
      { encoding: 'utf8' },
    )
    expect(retained).toMatch(new RegExp(`^lm1/hub/alerts/bed-${alarm.bedId}/harmful-shift {`))
    expect(hub.output()).toContain(`${alarm.bed}: pH`)
    expect(await page.locator('[data-bed]').count()).toBeGreaterThanOrEqual(6)
    expect(complaints).toEqual([])

    const others = await hub.get<Alarm[]>('/api/alarms')
    expect(others.filter((a) => a.kind === 'harmful-shift')).toHaveLength(1)
    if (SHOTS !== undefined)
      await page.screenshot({ path: join(SHOTS, 'garden-alarm-1280.png'), fullPage: true })
    await page.close()
  }, 190_000)

  test('each bed has a plan, or a reason why not, with who says so', async () => {
    const beds = await hub.get<BedView[]>('/api/beds')
    const decisions = await until(
      'every bed was gone through',
      async () => {
        const all = await Promise.all(
          beds.map(({ id }) => hub.get<Decision>(`/api/beds/${id}/decision`)),
        )
        return all.every(({ need }) => need.days >= 10) ? all : undefined
      },
      60_000,
    )
    for (const { bed, need, options, running, buffering, bufferingMissing } of decisions) {
      expect(need.sentence, bed).toContain(bed)
      expect(need.band, bed).not.toBeNull()
      expect(need.crops.flatMap(({ published }) => published).length, bed).toBeGreaterThan(0)
      expect((buffering === null) === (bufferingMissing !== null), bed).toBe(true)
      for (const { name, told, verdict, dose, cautions } of options) {
        const what = `${bed}: ${name}`
        // A refusal and a wait say why; a dose comes with its arithmetic and its cautions.
        if (verdict !== 'possible') expect(told.length, what).toBeGreaterThan(0)
        for (const one of told) expect(one.reason.length, what).toBeGreaterThan(15)
        if (dose === null) continue
        expect(need.verdict, what).toMatch(/raise|lower/)
        expect(dose.steps.length, what).toBeGreaterThan(2)
        expect(cautions.length, what).toBeGreaterThan(4)
        expect(dose.gM2.low, what).toBeLessThanOrEqual(dose.gM2.typical)
      }
      if (need.verdict === 'none') {
        expect(
          options.every(({ verdict }) => verdict === 'refused'),
          bed,
        ).toBe(true)
      }
      if (bed === 'Moss Hollow') expect(running?.stages.length).toBe(3)
    }
    const named = (name: string) => decisions.find(({ bed }) => bed === name)!
    expect(named('Cricket Strip').need.verdict).toBe('raise')
    expect(named('Kettle Bed').need.verdict).toBe('none')
    const gypsum = named('Cricket Strip').options.find(({ material }) => material === 'gypsum')!
    expect(gypsum.told[0]!.sources.length).toBeGreaterThan(0)
  }, 70_000)

  test.each([
    { width: 1280, height: 900 },
    { width: 360, height: 780 },
  ])(
    'every page renders at $width px without a complaint or a sideways scroll',
    async (size) => {
      const [bed] = await hub.get<BedView[]>('/api/beds')
      const [probe] = await hub.get<ProbeView[]>('/api/probes')
      for (const path of [
        '/',
        `/bed/${bed!.id}`,
        `/bed/${bed!.id}/plan`,
        '/probes',
        `/probe/${probe!.id}`,
        '/review',
        '/report',
        `/bed/${bed!.id}/report`,
        '/trials',
        '/alarms',
        '/settings',
      ]) {
        const { page, complaints } = await openPage(browser, hub.url + path, size)
        await page.locator('main h1').first().waitFor({ timeout: 10_000 })
        const isBed = path === `/bed/${bed!.id}`
        if (path === '/' || isBed) {
          await page.locator('canvas').first().waitFor({ timeout: 10_000 })
        }
        if (isBed) await page.getByTestId('findings').waitFor()
        if (path === '/review') await page.getByRole('table').first().waitFor()
        if (path.endsWith('/report')) await page.getByText('What next').first().waitFor()
        await page.waitForLoadState('load')
        const sideways = await page.evaluate(
          'document.documentElement.scrollWidth - document.documentElement.clientWidth',
        )
        expect(sideways, `${path} scrolls sideways`).toBeLessThanOrEqual(0)
        expect(complaints, path).toEqual([])
        if (SHOTS !== undefined) {
          const name = path === '/' ? 'garden' : path.slice(1).replaceAll('/', '-')
          await page.screenshot({ path: join(SHOTS, `${name}-${size.width}.png`), fullPage: true })
        }
        await page.close()
      }
    },
    120_000,
  )

  test('an alarm is acknowledged from the page', async () => {
    const { page } = await openPage(browser, `${hub.url}/alarms`, { width: 1280, height: 900 })
    const before = (await hub.get<Alarm[]>('/api/alarms?open=true')).filter(
      (a) => a.state === 'unacknowledged',
    )
    await page
      .getByRole('button', { name: /acknowledge/i })
      .first()
      .click()
    await until(
      'one alarm fewer to acknowledge',
      async () =>
        (await hub.get<Alarm[]>('/api/alarms?open=true')).filter(
          (a) => a.state === 'unacknowledged',
        ).length < before.length,
      5000,
    )
    await page.close()
  })

  test('the hub is well, and stops cleanly when told', async () => {
    const health = await hub.get<Health>('/api/health')
    expect(health.status).toBe('ok')
    expect(health.demo).toBe(true)
    expect(health.loading).toBeNull()
    expect(health.counts.readings).toBeGreaterThan(100_000)
    expect(health.counts.quarantined).toBe(0)
    expect(await hub.end('SIGTERM')).toBe(0)
  })
})
