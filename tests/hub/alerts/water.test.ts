import { expect, test } from 'vitest'
import { replay } from '#hub/alerts/replay.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import type { WatchHour } from '#hub/analysis/watch/hour-row.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { bed } from '../analysis/case.ts'

const FIRST = 20_600 * DAY

/** Hours of one probe that shows `vwc(day)` and a steady pH. */
function hours(days: number, vwc: (day: number) => number): WatchHour[] {
  return Array.from({ length: days * 24 }, (_, i) => ({
    hour: FIRST + i * HOUR,
    rows: [
      {
        spotId: 1,
        probe: 'fern1',
        ph: 6.4 + 0.02 * Math.sin(i),
        count: 4,
        raw: i,
        still: false,
        coarse: false,
        flags: 0,
        moisture: vwc(i / 24),
        moistureLow: vwc(i / 24),
        moistureScale: 'volume' as const,
        temperatureC: 14,
      },
    ],
  }))
}

function alarmsOf(days: number, vwc: (day: number) => number) {
  const loam = bed({ crops: ['lettuce'], texture: 'loam' })
  return replay(
    [
      {
        folding: {
          state: startWatch(loam, FIRST),
          context: { bed: loam, journal: [], calibratedAt: new Map(), others: [] },
          hours: hours(days, vwc),
        },
        spots: [{ id: 1, bedId: 1, name: 'middle' }],
      },
    ],
    FIRST,
    FIRST + days * DAY,
  ).alarms.filter(({ kind }) => kind === 'dry' || kind === 'waterlogged')
}

/** Soakings every few days let the bed's own field capacity be learned; then it dries for two weeks. */
const soaked = (day: number): number =>
  0.28 + 0.09 * Math.exp(-(day % 5) / 0.25) - 0.004 * (day % 5)

test('a bed that dries out raises one alarm with litres, which returns once it is watered', () => {
  const alarms = alarmsOf(40, (day) =>
    day < 20 ? soaked(day) : day < 34 ? Math.max(0.13, 0.27 - 0.02 * (day - 20)) : 0.29,
  )
  expect(alarms.map(({ what, kind }) => `${what} ${kind}`)).toEqual(['raised dry', 'returned dry'])
  const [raised, returned] = alarms
  expect((raised!.at - FIRST) / DAY).toBeGreaterThan(21)
  expect((raised!.at - FIRST) / DAY).toBeLessThan(28)
  expect(raised!.sentence).toMatch(/^East bed: Too dry: .* mm .* L \(.*\) on the whole bed/)
  expect((returned!.at - FIRST) / DAY).toBeGreaterThan(34)
  expect((returned!.at - FIRST) / DAY).toBeLessThan(35)
})

test('moisture that swings about the edge all day raises it once, not every day', () => {
  const alarms = alarmsOf(40, (day) =>
    day < 20 ? soaked(day) : 0.225 + 0.003 * Math.sin(2 * Math.PI * day),
  )
  expect(alarms.filter(({ what }) => what === 'raised').length).toBeLessThanOrEqual(1)
})

test('water that does not drain within two days is told, a wetting that does is not', () => {
  const drains = alarmsOf(30, soaked)
  expect(drains).toEqual([])
  const stands = alarmsOf(32, (day) => (day < 22 || day > 27 ? soaked(day) : 0.45))
  expect(stands.map(({ what, kind }) => `${what} ${kind}`)).toEqual([
    'raised waterlogged',
    'returned waterlogged',
  ])
  expect((stands[0]!.at - FIRST) / DAY).toBeGreaterThanOrEqual(24)
  expect((stands[0]!.at - FIRST) / DAY).toBeLessThan(25)
})
