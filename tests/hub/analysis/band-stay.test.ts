import { expect, test } from 'vitest'
import { bandStay } from '#hub/analysis/band-stay.ts'
import { foldBeds } from '#hub/analysis/watch/fold-beds.ts'
import type { WatchHour } from '#hub/analysis/watch/hour-row.ts'
import { startWatch } from '#hub/analysis/watch/start-watch.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { bed } from './case.ts'

const FIRST = 20_600 * DAY

/** The state after hours of two spots that show `ph(hour)`; NaN: no reading. */
function stateAfter(hours: number, ph: (hour: number) => number, ownBand = { low: 6, high: 7 }) {
  const own = bed({ crops: [], ownBand })
  const state = startWatch(own, FIRST)
  const rows = Array.from({ length: hours }, (_, i): WatchHour => ({
    hour: FIRST + i * HOUR,
    rows: Number.isNaN(ph(i))
      ? []
      : [0, 1].map((n) => ({
          spotId: n + 1,
          probe: `fern${n + 1}`,
          ph: ph(i) + 0.02 * n + 0.001 * (i % 7),
          count: 4,
          raw: i + n,
          still: false,
          coarse: false,
          flags: 0,
          moisture: 0.3,
          moistureLow: 0.3,
          moistureScale: 'volume' as const,
          temperatureC: 14,
        })),
  }))
  foldBeds(
    [
      {
        state,
        context: { bed: own, journal: [], calibratedAt: new Map(), others: [] },
        hours: rows,
      },
    ],
    FIRST + hours * HOUR,
    { onHour: () => undefined },
  )
  return { state, own }
}

test('a bed below its band: how far, how sure, for how long', () => {
  const { state, own } = stateAfter(120, (hour) => (hour < 40 ? 6.4 : 5.6))
  const stay = bandStay(state, own)!
  expect(stay.side).toBe('below')
  expect(stay.beyond).toBeCloseTo(0.39, 1)
  expect(stay.halfWidth).toBeGreaterThan(0.1)
  expect(stay.sureness).toBeGreaterThan(0.9)
  expect(stay.hoursBeyond(0.2)).toBe(80)
  expect(stay.spots).toEqual([1, 2])
})

test('an hour inside breaks the row; a short silence does not, half a day does', () => {
  const dip = (from: number, length: number, value: number) =>
    stateAfter(120, (hour) => (hour >= from && hour < from + length ? value : 5.6))
  const inside = dip(90, 1, 6.5)
  expect(bandStay(inside.state, inside.own)!.hoursBeyond(0.2)).toBe(29)
  const silent = dip(90, 6, NaN)
  expect(bandStay(silent.state, silent.own)!.hoursBeyond(0.2)).toBe(96)
  const long = dip(80, 14, NaN)
  expect(bandStay(long.state, long.own)!.hoursBeyond(0.2)).toBeLessThan(40)
})

test('inside its band it is beyond by less than nothing; without a band or readings nothing is said', () => {
  const { state, own } = stateAfter(60, () => 6.5)
  expect(bandStay(state, own)!.beyond).toBeLessThan(0)
  expect(bandStay(state, bed({ crops: [], ownBand: null }))).toBeNull()
  const quiet = stateAfter(60, (hour) => (hour < 30 ? 5.6 : NaN))
  expect(bandStay(quiet.state, quiet.own)).toBeNull()
})
