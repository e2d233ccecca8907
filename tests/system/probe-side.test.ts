import { execFileSync } from 'node:child_process'
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { BedView } from '#hub/api/schemas/bed.ts'
import type { Entry } from '#hub/api/schemas/journal.ts'
import type { ProbeView } from '#hub/api/schemas/probe.ts'
import { openBrowser, openPage } from '../support/browser.ts'
import { startHub, type HubProcess } from '../support/hub-process.ts'
import { tempDir } from '../support/temp-dir.ts'
import { until } from '../support/until.ts'

const PHONE = { width: 360, height: 780 }
/** Where screenshots go when somebody wants to look at them. */
const SHOTS = process.env['SCREENSHOTS']

let browser: Browser
let hub: HubProcess
let page: Page
let complaints: readonly string[]
let bedId = 0
const dir = tempDir()

let sent = 0
const publish = (values: Readonly<Record<string, number>>): void => {
  const payload = JSON.stringify({ b: 1, n: sent, u: 5 + sent * 12, v: values })
  sent++
  execFileSync('mosquitto_pub', [
    '-p',
    String(hub.mqttPort),
    '-q',
    '1',
    '-t',
    'lm1/reed4/up/r',
    '-m',
    payload,
  ])
}
const probe = (): Promise<ProbeView> => hub.get<ProbeView>('/api/probes/reed4')
const shoot = async (name: string): Promise<void> => {
  const wide = await page.evaluate<number>('document.documentElement.scrollWidth')
  expect(wide, `${name} is wider than the phone`).toBeLessThanOrEqual(PHONE.width)
  if (SHOTS === undefined) return
  mkdirSync(SHOTS, { recursive: true })
  await page.screenshot({ path: join(SHOTS, `${name}-360.png`), fullPage: true })
}
/** Answers the live value by hand, as beside a meter of one's own. */
const typeValue = async (value: string): Promise<void> => {
  await page.getByText('The probe shows its value elsewhere').click()
  await page.getByLabel('Value read off').fill(value)
  await page.getByRole('button', { name: 'Take it', exact: true }).click()
}

beforeAll(async () => {
  browser = await openBrowser()
  hub = await startHub('start', dir.path)
  const made = await hub.send('POST', '/api/beds', {
    name: 'Reed bed',
    areaM2: 2.4,
    depthM: 0.3,
    texture: 'sandy loam',
    crops: ['lettuce'],
    ownBand: null,
  })
  bedId = ((await made.json()) as BedView).id
  await hub.send('POST', `/api/beds/${bedId}/spots`, { name: 'middle' })
  publish({ phmv: 30.5, m1: 2050, st: 18.2 })
  await until('it is heard', async () =>
    (await hub.get<ProbeView[]>('/api/probes')).some(({ id }) => id === 'reed4'),
  )
  await hub.send('PUT', '/api/probes/reed4', { name: '' })
  const [bed] = await hub.get<BedView[]>('/api/beds')
  const { firstSeenAt } = await probe()
  await hub.send('POST', '/api/probes/reed4/placement', {
    spotId: bed!.spots[0]!.spotId,
    from: firstSeenAt - 1000,
  })
  ;({ page, complaints } = await openPage(browser, `${hub.url}/probe/reed4`, PHONE))
  page.setDefaultTimeout(20_000)
}, 90_000)
afterAll(async () => {
  await browser?.close()
  await hub?.end()
  dir[Symbol.dispose]()
})

describe('an electrode is calibrated on the phone beside the buffers', () => {
  test('an electrode without buffers says so, and the way there is one press', async () => {
    await page.getByText('it was never held in buffers').waitFor()
    await page.getByRole('link', { name: 'Calibrate step by step' }).click()
    await page.getByRole('button', { name: 'Begin' }).click()
    await page.getByText('give the temperature of the buffers').waitFor()
    await page.getByRole('button', { name: /^Use the probe's own: 18.2/ }).click()
    await page.getByText('7.00: pH 7.027 now').first().waitFor({ state: 'attached' })
    await shoot('calibrate-ready')
    await page.getByRole('button', { name: 'Begin' }).click()
  }, 60_000)

  test('the first buffer: the value is live, moves, settles, and only then is offered', async () => {
    await page.getByRole('button', { name: 'It stands in the buffer' }).click()
    const live = page.getByTestId('live-value')
    await live.getByText(/first reading comes/).waitFor()
    publish({ phmv: 4.1, m1: 30, st: 18.2 })
    await live.getByText('Take 4.1 mV all the same').waitFor()
    for (const phmv of [-7.2, -8.2, -8.4, -8.3]) {
      publish({ phmv, m1: 30, st: 18.2 })
      await new Promise((resolve) => setTimeout(resolve, 11_500))
    }
    publish({ phmv: -8.3, m1: 30, st: 18.2 })
    await live.getByText(/^Settled: 4 readings within 1 mV/).waitFor()
    await shoot('calibrate-settled')
    await live.getByRole('button', { name: 'Take −8.3 mV' }).click()
  }, 150_000)

  test('a locked phone forgets nothing; the second buffer by a value read off', async () => {
    await page.reload()
    await page.getByRole('heading', { name: /^Buffer 4.00: pH 4 at 18.2/ }).waitFor()
    await page.getByRole('button', { name: 'It stands in the buffer' }).click()
    await typeValue('161,5')
    await page
      .getByTestId('verdict')
      .getByText(/^Good. Slope 97/)
      .waitFor()
  }, 60_000)

  test('a third buffer that does not fit is told with its residual, and can be left out', async () => {
    await page.getByRole('button', { name: 'Add buffer 10.01' }).click()
    await page.getByRole('button', { name: 'It stands in the buffer' }).click()
    await typeValue('-150')
    const verdict = page.getByTestId('verdict')
    await verdict.getByText(/three buffers within 0\.\d\d pH of one line/).waitFor()
    await verdict.getByText(/Not fit for use/).waitFor()
    await page.getByRole('button', { name: 'Leave it out' }).nth(2).click()
    await verdict.getByText(/^Good. Slope 97/).waitFor()
  }, 60_000)

  test('what it changes stands there before it is stored, from before the buffers', async () => {
    const effect = page.getByTestId('effect')
    await effect.getByText(/newest hour would read pH 6\.3\d instead of pH 6\.4\d/).waitFor()
    await shoot('calibrate-judge')
    await page.getByRole('button', { name: 'Store it' }).click()
    const stored = await until('stored', async () => (await probe()).calibrations[0])
    expect(stored.points).toEqual([
      { ph: 7.027, emfMv: expect.closeTo(-8.3, 6) as number },
      { ph: 4, emfMv: 161.5 },
    ])
    expect(stored).toMatchObject({ bufferSet: 'technical', temperatureC: 18.2 })
    await page.getByText(/^Fresh buffers in 30 days/).waitFor()
    await shoot('probe-health')
  }, 60_000)
})

test('a moisture probe: dry, wet, two soils that were weighed, stored as water by volume', async () => {
  await page.getByRole('link', { name: 'Calibrate step by step' }).click()
  await page.getByText('Moisture (m1)').click()
  await page.getByRole('button', { name: 'It hangs in the air' }).click()
  await typeValue('2900')
  await page.getByRole('button', { name: 'It stands in the water' }).click()
  await typeValue('1200')
  const soil = async (raw: string, wet: string): Promise<void> => {
    await page.getByLabel('The probe showed').fill(raw)
    await page.getByLabel('Tin alone').fill('50')
    await page.getByLabel('Tin and moist soil').fill(wet)
    await page.getByLabel('Tin and dry soil').fill('150')
    await page.getByText('its density').click()
    await page.getByLabel('Density when dry').fill('1.35')
    await page.getByRole('button', { name: 'Add this soil' }).click()
  }
  await soil('1900', '140')
  await page.getByText(/expected at least the dry weight/).waitFor()
  await soil('1900', '170')
  await page
    .getByTestId('water-by-weight')
    .getByText(/27.0 % of water by volume/)
    .waitFor()
  await soil('2600', '155')
  await page.getByText('6.8 % by volume').waitFor()
  await shoot('calibrate-soils')
  await page.getByRole('button', { name: 'Go on', exact: true }).click()
  await page
    .getByTestId('verdict')
    .getByText(/^Good. .*By your own soil/)
    .waitFor()
  await shoot('calibrate-moisture-judge')
  await page.getByRole('button', { name: 'Store it' }).click()
  const stored = await until('stored', async () =>
    (await probe()).calibrations.find(({ kind }) => kind === 'moisture'),
  )
  expect(stored.soilPoints).toEqual([
    { raw: 1900, vwc: 0.27 },
    { raw: 2600, vwc: 0.0675 },
  ])
}, 90_000)

test('a bed is measured by hand: protocol, timer, mean with its doubt, one sample in the journal', async () => {
  await page.goto(`${hub.url}/bed/${bedId}`)
  await page.getByRole('link', { name: 'Measure by hand' }).first().click()
  await page.getByText(/About 12 spots for ± 0.2 pH/).waitFor()
  await page.getByRole('heading', { name: 'Spot 1 of about 12' }).waitFor()
  await page.getByRole('button', { name: 'Start the timer' }).click()
  await page
    .getByRole('timer')
    .getByText(/^0:5\d$/)
    .waitFor()
  await page.getByLabel('pH in spot 1').fill('5,2x')
  await page.getByRole('button', { name: 'Note it, next spot' }).click()
  await page.getByText("expected a number, got '5,2x'").waitFor()
  for (const [i, value] of ['5,2', '5.4', '5.9'].entries()) {
    await page.getByLabel(`pH in spot ${i + 1}`).fill(value)
    await page.getByRole('button', { name: 'Note it, next spot' }).click()
  }
  // Virginia Tech, "Statistical analysis of pH values": 5.2, 5.4 and 5.9 make 5.50.
  const result = page.getByTestId('hand-result')
  await result.getByText(/^pH 5\.50 from 3 spots, standard error 0\.21/).waitFor()
  await result.getByText(/measure about \d+ more spots/).waitFor()
  await shoot('measure')
  await page.reload()
  await page.getByRole('heading', { name: /^Spot 4 of about/ }).waitFor()
  await page.getByLabel('Remark').fill('after rain')
  await page.getByRole('button', { name: 'Save as one sample' }).click()
  const entry = await until('written', async () =>
    (await hub.get<Entry[]>(`/api/beds/${bedId}/journal`)).find(({ kind }) => kind === 'sample'),
  )
  expect(entry).toMatchObject({ ph: 5.5, method: 'hand meter' })
  expect(entry.text).toBe('Mean of 3 spots: 5.2, 5.4, 5.9, standard error 0.21. after rain')
  await page.goto(`${hub.url}/bed/${bedId}/measure`)
  await page.getByText('No value yet.').waitFor()
}, 90_000)

test('nothing of all this made the console complain', () => {
  expect(complaints.filter((c) => !/Failed to load resource/.test(c))).toEqual([])
})
