import { expect, test } from 'vitest'
import { isWorthKeeping, placeByAnchors, placeLate, placeLive } from '#hub/wire/time.ts'
import { seededRandom } from '#tests/support/random.ts'

const MINUTE = 60_000
const HOUR = 60 * MINUTE
const T0 = 1_780_000_000_000

/** Anchors of a probe whose clock runs at `rate` of the true one, each at `hours` of true time. */
function anchorsAt(rate: number, hours: readonly number[]) {
  return hours.map((h) => ({ uptimeS: Math.floor(h * 3600 * rate), at: T0 + h * HOUR }))
}

test('between two anchors a clock running 5 % slow does no harm', () => {
  const anchors = anchorsAt(0.95, [0, 1, 9])
  for (let h = 1; h <= 9; h += 0.25) {
    const at = placeByAnchors(anchors, h * 3600 * 0.95) ?? NaN
    expect(Math.abs(at - (T0 + h * HOUR))).toBeLessThan(2000)
  }
})

test('outside the anchors the rate of the whole boot holds', () => {
  const anchors = anchorsAt(0.95, [0, 1, 2, 3])
  const at = placeByAnchors(anchors, 11 * 3600 * 0.95) ?? NaN
  // One fixed offset would be off by 24 minutes here.
  expect(Math.abs(at - (T0 + 11 * HOUR))).toBeLessThan(30_000)
  const before = placeByAnchors(anchorsAt(0.95, [5, 6, 7]), 0) ?? NaN
  expect(Math.abs(before - T0)).toBeLessThan(30_000)
})

test('two anchors a few minutes apart tell no rate: network jitter would', () => {
  const jittery = [
    { uptimeS: 0, at: T0 },
    { uptimeS: 60, at: T0 + 90_000 },
  ]
  const at = placeByAnchors(jittery, 60 + 8 * 3600) ?? NaN
  expect(at).toBe(T0 + 90_000 + 8 * HOUR)
})

test('no clock is believed to run more than 10 % wrong', () => {
  const stopped = [
    { uptimeS: 0, at: T0 },
    { uptimeS: 2 * 3600, at: T0 + 8 * HOUR },
  ]
  expect(placeByAnchors(stopped, 3 * 3600)).toBeCloseTo(T0 + 8 * HOUR + 1.1 * HOUR, -2)
})

test('without an anchor nothing is known', () => {
  expect(placeByAnchors([], 5)).toBeNull()
})

test('an anchor an hour is kept', () => {
  let kept: { uptimeS: number; at: number }[] = []
  for (let u = 0; u <= 24 * 3600; u += 60) {
    const next = { uptimeS: u, at: T0 + u * 1000 }
    if (isWorthKeeping(kept, next)) kept = [...kept, next]
  }
  expect(kept).toHaveLength(25)
})

const live = { uptimeS: 7200, arrivedAt: T0 + 2 * HOUR, deviceAt: null, mayBeDelayed: false }

test("a live reading is placed by its arrival, or by the probe's clock when that agrees", () => {
  expect(placeLive([], live)).toEqual({ at: live.arrivedAt, placedBy: 'arrival', isAnchor: true })
  const deviceAt = live.arrivedAt - 4000
  expect(placeLive([], { ...live, deviceAt })).toMatchObject({ at: deviceAt, placedBy: 'device' })
})

for (const [what, deviceAt] of [
  ['from 1970', 12_000],
  ['from 2100', 4_102_444_800_000],
  ['an hour slow', live.arrivedAt - HOUR],
  ['an hour fast', live.arrivedAt + HOUR],
] as const) {
  test(`a probe's clock ${what} is not believed`, () => {
    expect(placeLive([], { ...live, deviceAt })).toMatchObject({
      at: live.arrivedAt,
      placedBy: 'arrival',
    })
  })
}

test('a live reading the broker held back is placed by anchors and is none itself', () => {
  const anchors = anchorsAt(1, [0, 1])
  const held = { ...live, uptimeS: 2 * 3600, arrivedAt: T0 + 5 * HOUR, mayBeDelayed: true }
  expect(placeLive(anchors, held)).toEqual({
    at: T0 + 2 * HOUR,
    placedBy: 'anchors',
    isAnchor: false,
  })
  const withClock = placeLive(anchors, { ...held, deviceAt: T0 + 2 * HOUR + 3000 })
  expect(withClock).toMatchObject({ at: T0 + 2 * HOUR + 3000, placedBy: 'device', isAnchor: false })
  // On time after all, within what a slow clock explains.
  const onTime = { ...held, arrivedAt: T0 + 2 * HOUR + 5 * MINUTE }
  expect(placeLive(anchors, onTime)).toMatchObject({ placedBy: 'arrival', isAnchor: true })
  // Nothing to hold it against.
  expect(placeLive([], held)).toMatchObject({ placedBy: 'bounded', isAnchor: false })
})

test('no row of a batch is later than the batch', () => {
  const anchors = anchorsAt(1, [0, 1])
  const row = { uptimeS: 9 * 3600, arrivedAt: T0 + 2 * HOUR, latestAt: T0 + 2 * HOUR }
  expect(placeLate(anchors, row).at).toBe(T0 + 2 * HOUR)
  expect(placeLate([], { ...row, latestAt: T0 - HOUR })).toEqual({
    at: T0 - HOUR,
    placedBy: 'bounded',
  })
})

test('a day of random outages: interpolation stays within a minute, one offset does not', () => {
  const random = seededRandom(11)
  const rate = 0.95
  const hours: number[] = []
  for (let h = 0; h < 24; h += 0.5 + 3 * random()) hours.push(h)
  const anchors = anchorsAt(rate, hours)
  let worst = 0
  let worstByOffset = 0
  for (let h = hours[0]!; h < hours.at(-1)!; h += 0.1) {
    const truth = T0 + h * HOUR
    const uptimeS = Math.floor(h * 3600 * rate)
    worst = Math.max(worst, Math.abs((placeByAnchors(anchors, uptimeS) ?? NaN) - truth))
    worstByOffset = Math.max(worstByOffset, Math.abs(T0 + uptimeS * 1000 - truth))
  }
  expect(worst).toBeLessThan(MINUTE)
  expect(worstByOffset).toBeGreaterThan(HOUR)
})
