import { expect, test } from 'vitest'
import { type ControlCandidate, controlFor } from '#hub/analysis/amendment/control-for.ts'
import { DAY } from '#hub/model/clock.ts'
import { seededRandom } from '#hub/simulator/random.ts'
import { dailyOf, noise, SERIES_START_MS } from '../../../score/series.ts'

const WEEKS = 60
const DOSE_WEEK = 20
const weekAt = (week: number): number => SERIES_START_MS + week * 7 * DAY
const DOSE_AT = weekAt(DOSE_WEEK)
const WINDOW = { doseAt: DOSE_AT, at: weekAt(WEEKS) }

const random = seededRandom(61)
const shared = noise(random, WEEKS, 0.08, 0.7)
function bed(name: string, sd: number, weeks = WEEKS) {
  const own = noise(random.split(name), WEEKS, sd, 0.6)
  return dailyOf(
    shared.map((value, week) => 6 + value + own[week]!),
    SERIES_START_MS,
    (week) => week < weeks,
  )
}
const TREATED = bed('treated', 0.05)

let nextId = 1
function candidate(name: string, more: Partial<ControlCandidate> = {}): ControlCandidate {
  return { bedId: nextId++, bed: name, series: bed(name, 0.05), doses: [], ...more }
}
const limed = (week: number, material = 'lime') => [{ id: 9, at: weekAt(week), material }]

test('untreated beds that moved alike are averaged, three at most, the most alike first', () => {
  const wild = candidate('Wild', { series: bed('Wild', 0.12) })
  const calm = ['A', 'B', 'C'].map((name) => candidate(name, { series: bed(name, 0.01) }))
  const choice = controlFor(TREATED, [wild, ...calm], WINDOW)
  expect(choice.status).toBe('ok')
  if (choice.status !== 'ok') return
  expect(choice.beds.toSorted()).toEqual(['A', 'B', 'C'])
  expect(choice.series.day.length).toBe(TREATED.day.length)
  const first = calm.map(({ series }) => series.value[0]!)
  expect(choice.series.value[0]).toBeCloseTo((first[0]! + first[1]! + first[2]!) / 3, 12)
  expect(choice.reason).toMatch(/untreated since 90 days before/)
})

test('a bed with a treatment of its own is no control, before or after; gypsum does not count', () => {
  const choice = controlFor(
    TREATED,
    [
      candidate('Limed after', { doses: limed(DOSE_WEEK + 5) }),
      candidate('Limed shortly before', { doses: limed(DOSE_WEEK - 8) }),
      candidate('Limed long before', { doses: limed(DOSE_WEEK - 18) }),
      candidate('Gypsum', { doses: limed(DOSE_WEEK + 5, 'gypsum') }),
    ],
    WINDOW,
  )
  if (choice.status !== 'ok') throw new Error(choice.reason)
  expect(choice.beds.toSorted()).toEqual(['Gypsum', 'Limed long before'])
  expect(choice.reason).toMatch(/Limed after had lime of its own/)
  expect(choice.reason).toMatch(/Limed shortly before had lime of its own/)
})

test('without a fit bed it says why of each', () => {
  const away = noise(seededRandom(62), WEEKS, 0.8, 0)
  const choice = controlFor(
    TREATED,
    [
      candidate('Young', { series: dailyOf(shared, SERIES_START_MS, (week) => week >= 15) }),
      candidate('Gone', { series: bed('Gone', 0.05, DOSE_WEEK + 5) }),
      candidate('Restless', { series: dailyOf(away.map((value) => 6 + value)) }),
    ],
    WINDOW,
  )
  expect(choice.status).toBe('none')
  expect(choice.series).toBeNull()
  expect(choice.reason).toMatch(/Young shares only 5 weeks before/)
  expect(choice.reason).toMatch(/Gone has too few days after/)
  expect(choice.reason).toMatch(/Restless moved otherwise/)
  expect(controlFor(TREATED, [], WINDOW).reason).toBe('there is no other bed')
})
