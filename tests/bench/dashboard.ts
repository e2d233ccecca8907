import type { Browser, Page } from 'playwright-core'
import { openBrowser } from '../support/browser.ts'
import { pretendHub } from '../support/pretend-hub.ts'
import { middle } from './kit.ts'
import type { BenchRow } from './row.ts'

/* The pages in real Chromium. Needs the built dashboard. */

const ROUNDS = 7
const YEARS = 5
/** A frame of a screen that shows 60 a second, ms. */
const FRAME_MS = 1000 / 60

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

/** Milliseconds of drawing the charts of one bed of four spots, by how many rows each series has. */
async function bedsDrawn(browser: Browser): Promise<{ few: number; day: number; years: number }> {
  const page = await browser.newPage({ viewport: { width: 1280, height: 900 } })
  const draw = async (rows: number, range: string): Promise<number> => {
    await using hub = await pretendHub({ beds: 1, spots: 4, rows })
    return await drawn(page, `${hub.url}/bed/1?range=${range}`)
  }
  try {
    return {
      years: await draw(YEARS * 365, 'all'),
      few: await draw((YEARS * 365) / 10, 'all'),
      day: await draw(96, 'day'),
    }
  } finally {
    await page.close()
  }
}

/** Milliseconds until a garden of fifty beds can be used, and until a page with one paragraph can. */
async function gardens(browser: Browser): Promise<{ empty: number; full: number }> {
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
  return { empty: middle(empty), full: middle(full) }
}

export async function rows(): Promise<readonly BenchRow[]> {
  const browser = await openBrowser()
  try {
    const bed = await bedsDrawn(browser)
    const garden = await gardens(browser)
    const chromium = `Chromium ${browser.version()}`
    return [
      {
        what: 'Five years of four spots drawn : a frame of 16.7 ms',
        value: bed.years / FRAME_MS,
        unit: '',
        better: 'less',
        target: 1,
        stretch: 0.5,
        how: `${chromium}, 1280 x 900; from the arrival of ${YEARS * 365} daily rows a series to the end of drawing; middle of ${2 * ROUNDS} charts.`,
        missed: {
          why: 'Drawing the lines and the areas of doubt of every spot takes longer than a frame.',
          next: 'Thin columns to two points a pixel before they are drawn.',
        },
      },
      {
        what: 'Five years of four spots drawn : one day drawn',
        value: bed.years / bed.day,
        unit: '',
        better: 'less',
        target: 10,
        stretch: 4,
        how: '1,825 rows a series against 96.',
        missed: {
          why: 'Time grows as the rows do.',
          next: 'Thin columns to two points a pixel before they are drawn.',
        },
      },
      {
        what: 'Growth of drawing with 10 times the rows',
        value: bed.years / bed.few,
        unit: '',
        better: 'less',
        target: 10,
        stretch: 4,
        how: '1,825 rows a series against 182.',
        missed: {
          why: 'Time grows faster than the rows do.',
          next: 'Profile the drawing of a long series.',
        },
      },
      {
        what: 'Five years of four spots drawn',
        value: bed.years,
        unit: 'ms',
        better: 'less',
        target: null,
        how: 'The same, in time of this machine.',
      },
      {
        what: 'Garden of 50 beds usable : empty page, processor four times slower',
        value: garden.full / garden.empty,
        unit: '',
        better: 'less',
        target: 12,
        stretch: 8,
        how: `${chromium}, 360 x 780, slowed by its developer interface; until the last task of more than 50 ms is over; middle of ${ROUNDS}.`,
        missed: {
          why: 'Every lane is drawn before the page can be used.',
          next: 'Draw the lanes in sight first.',
        },
      },
      {
        what: 'Garden of 50 beds usable, processor four times slower',
        value: garden.full,
        unit: 'ms',
        better: 'less',
        target: null,
        how: 'The same, in time of this machine.',
      },
    ]
  } finally {
    await browser.close()
  }
}
