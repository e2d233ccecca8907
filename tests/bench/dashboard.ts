import type { Browser, Page } from 'playwright-core'
import { openBrowser } from '../support/browser.ts'
import { pretendHub } from '../support/pretend-hub.ts'

/*
 * The pages in real Chromium, as ratios measured in one run. Needs the built dashboard; run by hand with
 * `npm run bench`.
 */

const ROUNDS = 7
const YEARS = 5
/** A frame of a screen that shows 60 a second, ms. */
const FRAME_MS = 1000 / 60

const middle = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[values.length >> 1]!
const row = (what: string, value: string): void => console.log(`${what.padEnd(64)} ${value}`)

/** Chromium with a processor that many times slower. */
async function slowed(browser: Browser, times: number): Promise<Page> {
  const page = await browser.newPage({ viewport: { width: 360, height: 780 } })
  const session = await page.context().newCDPSession(page)
  await session.send('Emulation.setCPUThrottlingRate', { rate: times })
  return page
}

/** Run in the page before its own scripts: keeps what took long and what was marked. */
const WATCH = `
  window.longTasks = []
  window.marks = []
  new PerformanceObserver((list) => {
    for (const { startTime, duration } of list.getEntries()) longTasks.push(startTime + duration)
  }).observe({ type: 'longtask', buffered: true })
  new PerformanceObserver((list) => {
    for (const { name, startTime } of list.getEntries()) marks.push({ name, at: startTime })
  }).observe({ type: 'mark', buffered: true })
`

/**
 * Milliseconds from the beginning of a navigation until the page can be used: what `ready` asks for is there, and the
 * last task of more than 50 ms before one and a half quiet seconds is over.
 */
async function interactive(page: Page, url: string, ready: string): Promise<number> {
  await page.addInitScript(WATCH)
  await page.goto(url, { waitUntil: 'commit' })
  return page.evaluate<number>(`new Promise((resolve) => {
    const look = () => {
      if (document.querySelector('${ready}') === null) return requestAnimationFrame(look)
      const at = performance.now()
      setTimeout(() => resolve(Math.max(at, ...longTasks)), 1500)
    }
    look()
  })`)
}

/** Milliseconds from the arrival of an answer until the chart has been drawn with it: the middle of many. */
async function drawn(page: Page, url: string): Promise<number> {
  await page.addInitScript(WATCH)
  const marks = (): Promise<{ name: string; at: number }[]> => page.evaluate('marks.splice(0)')
  await page.goto(url)
  await page.locator('.u-over').nth(1).waitFor()
  await page.waitForTimeout(1000)
  const times: number[] = []
  for (let round = 0; round < 2 * ROUNDS; round++) {
    await marks()
    // All spots on: a new answer for each chart, each drawn as it comes. Off again: not counted.
    await page.getByLabel('Each spot').setChecked(round % 2 === 0)
    await page.waitForTimeout(500)
    const seen = await marks()
    if (round % 2 === 1) continue
    for (const { name, at } of seen) {
      const end = seen.find((mark) => mark.name === 'loamline drawn' && mark.at > at)
      if (name === 'loamline series' && end !== undefined) times.push(end.at - at)
    }
  }
  return middle(times)
}

const browser = await openBrowser()
console.log(`\nChromium ${browser.version()}; ratios of one run\n`)
{
  await using long = await pretendHub({ beds: 1, spots: 4, rows: YEARS * 365 })
  await using day = await pretendHub({ beds: 1, spots: 4, rows: 96 })
  const page = await browser.newPage({ viewport: { width: 1280, height: 900 } })
  const years = await drawn(page, `${long.url}/bed/1?range=all`)
  const one = await drawn(page, `${day.url}/bed/1?range=day`)
  row('five years of four spots drawn : one day drawn', (years / one).toFixed(1))
  row('five years of four spots drawn : a frame of 16.7 ms', (years / FRAME_MS).toFixed(2))
  row('for the record, ms on this machine: years, day', `${years.toFixed(1)}, ${one.toFixed(1)}`)
  await page.close()
}
{
  await using garden = await pretendHub({ beds: 50 })
  const empty: number[] = []
  const full: number[] = []
  for (let round = 0; round < ROUNDS; round++) {
    for (const [times, url, ready] of [
      [empty, `${garden.url}/empty.html`, 'p'],
      [full, garden.url, '.lane:nth-child(51) h2'],
    ] as const) {
      const page = await slowed(browser, 4)
      times.push(await interactive(page, url, ready))
      await page.close()
    }
  }
  const [nothing, beds] = [middle(empty), middle(full)]
  row('garden of 50 beds usable, CPU 4 times slower : empty page', (beds / nothing).toFixed(1))
  row('for the record, ms: 50 beds, empty page', `${beds.toFixed(0)}, ${nothing.toFixed(0)}`)
}
await browser.close()
