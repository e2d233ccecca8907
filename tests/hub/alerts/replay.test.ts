import { describe, expect, test } from 'vitest'
import { replay, type ReplayAlarm, type ReplayResult } from '#hub/alerts/replay.ts'
import type { WatchHour } from '#hub/analysis/watch/hour-row.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { seededRandom } from '../../support/random.ts'
import { bed } from '../analysis/case.ts'

const FIRST = 20_600 * DAY

/** Goes through so many days of a bed whose spots show 6.4 plus `offset(day, spot)`, spots counted from 0. */
function played(
  days: number,
  offset: (day: number, spot: number) => number,
  options: { spots?: number; from?: number; onHour?: (share: number) => void } = {},
): ReplayResult {
  const { spots = 3, from = 0, onHour } = options
  const random = seededRandom(4)
  const east = bed()
  const ids = Array.from({ length: spots }, (_, i) => i)
  const hours = Array.from({ length: days * 24 }, (_, h): WatchHour => ({
    hour: FIRST + h * HOUR,
    rows: ids.map((i) => ({
      spotId: i + 1,
      probe: `fern${i + 1}`,
      ph: 6.4 + offset(h / 24, i) + 0.04 * (random() - 0.5),
      count: 4,
      raw: NaN,
      still: false,
      coarse: false,
      flags: 0,
      moisture: 0.27,
      moistureLow: 0.27,
      moistureScale: 'volume',
      temperatureC: 14,
    })),
  }))
  return replay(
    [
      {
        folding: {
          state: startWatch(east, FIRST),
          context: { bed: east, journal: [], calibratedAt: new Map(), others: [] },
          hours,
        },
        spots: ids.map((i) => ({ id: i + 1, bedId: east.id, name: `place ${i + 1}` })),
      },
    ],
    FIRST + from * DAY,
    FIRST + days * DAY,
    onHour,
  )
}

/** Day and kind of what was told, such as 'raised harmful-shift on day 20'. */
const told = ({ what, kind, at }: ReplayAlarm): string =>
  `${what} ${kind} on day ${Math.floor((at - FIRST) / DAY)}`

test('a bed that jumps and comes back raises one alarm, which returns', () => {
  const { alarms, events, hours } = played(40, (day) => (day >= 20 && day < 24 ? -1.2 : 0))
  expect(alarms.map(told)).toEqual([
    'raised harmful-shift on day 20',
    'returned harmful-shift on day 25',
  ])
  expect(alarms[0]).toMatchObject({ bedId: 1, subject: '' })
  expect(alarms[0]!.sentence).toContain('East bed')
  // The way back is an event of its own, but no second shock.
  expect(events).toHaveLength(2)
  expect(hours).toBe(40 * 24)
})

describe('a way back is no second shock, but what leaves the normal level anew is told at once', () => {
  test('a jump the other way, twelve days after the bed had come back', () => {
    const { alarms } = played(40, (day) => (day >= 20 && day < 24 ? -1.2 : day >= 36 ? 1.2 : 0))
    expect(alarms.map(told)).toContain('raised harmful-shift on day 36')
  })

  test('the same jump again, once the bed had come back', () => {
    const { alarms } = played(40, (day) => ((day >= 20 && day < 24) || day >= 28 ? -1.2 : 0))
    expect(alarms.map(told)).toEqual([
      'raised harmful-shift on day 20',
      'returned harmful-shift on day 25',
      'raised harmful-shift on day 28',
    ])
  })

  test('there and back twice', () => {
    const { alarms } = played(40, (day) =>
      (day >= 20 && day < 24) || (day >= 28 && day < 31) ? -1.2 : 0,
    )
    expect(alarms.map(({ what }) => what)).toEqual(['raised', 'returned', 'raised', 'returned'])
    expect((alarms[3]!.at - FIRST) / DAY).toBeGreaterThan(31)
  })

  test('the bed falls after one probe had gone up by itself and come back', () => {
    const { alarms } = played(40, (day, spot) =>
      day >= 28 ? -1.4 : spot === 1 && day >= 20 && day < 24 ? 1 : 0,
    )
    expect(alarms.map(told)).toContain('raised harmful-shift on day 28')
  })

  test('one probe goes down by itself, twelve days after it had come back from above', () => {
    const { alarms } = played(40, (day, spot) =>
      spot !== 1 ? 0 : day >= 20 && day < 22 ? 1 : day >= 34 ? -1 : 0,
    )
    expect(alarms.map(told)).toEqual([
      'raised probe-check on day 20',
      'returned probe-check on day 22',
      'raised probe-check on day 34',
    ])
    expect(alarms.map(({ subject }) => subject)).toEqual(['fern2', 'fern2', 'fern2'])
  })
})

test('earlier alarms and events are gone through, but not told; what ends later is', () => {
  const jump = (day: number): number => (day >= 20 && day < 24 ? -1.2 : 0)
  const all = played(40, jump)
  const late = played(40, jump, { from: 22 })
  expect(late.alarms).toEqual(all.alarms.filter(({ at }) => at >= FIRST + 22 * DAY))
  expect(late.alarms.map(({ what }) => what)).toEqual(['returned'])
  expect(late.events).toEqual(all.events.filter((e) => e.noticedAt >= FIRST + 22 * DAY))
  expect(late.hours).toBe(all.hours)
})

test('a single probe cannot tell soil from electrode: it waits a day and is never quite sure', () => {
  const { alarms } = played(30, (day) => (day >= 20 ? -1.6 : 0), { spots: 1 })
  expect(alarms.map(told)).toEqual(['raised harmful-shift on day 21'])
  expect(alarms[0]!.sentence).toContain('(60 %)')
  const three = played(30, (day) => (day >= 20 ? -1.6 : 0))
  expect(three.alarms[0]!.sentence).not.toContain('(60 %)')
})

test('how far it has come is told from hour to hour, up to the whole', () => {
  const shares: number[] = []
  played(3, () => 0, { onHour: (share) => shares.push(share) })
  expect(shares).toHaveLength(72)
  expect(shares).toEqual(shares.toSorted((a, b) => a - b))
  expect(shares.at(-1)).toBe(1)
})
