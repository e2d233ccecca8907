import { afterEach, beforeEach, expect, test } from 'vitest'
import { lowBelow, sinceNewBattery } from '#hub/analysis/quality/low-supply.ts'
import { suppliesOf } from '#hub/evaluation/probe-looks.ts'
import { supplyDays } from '#hub/evaluation/supply-days.ts'
import type { Bed } from '#hub/model/bed.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import type { Channel } from '#hub/model/probe.ts'
import type { Reading } from '#hub/model/reading.ts'
import { loadFeeds } from '#hub/store/feeds.ts'
import { openStores, type Stores } from '#hub/store/open.ts'
import { tempDir } from '../../support/temp-dir.ts'

const TODAY = 20_600 * DAY
const AT = TODAY + 20 * HOUR

let dir: ReturnType<typeof tempDir>
let stores: Stores
let bed: Bed
beforeEach(async () => {
  dir = tempDir()
  stores = await openStores(dir.path, { zone: 'UTC' })
  const { garden } = stores
  bed = await garden.addBed(
    { name: 'Fern bed', areaM2: 2, depthM: 0.25, texture: 'loam', crops: [], ownBand: null },
    AT - 500 * DAY,
  )
  const supply: Channel = {
    probe: 'fern1',
    name: 'bat',
    senses: 'bat',
    unit: 'V',
    low: null,
    high: null,
    resolution: null,
    depthM: null,
    from: null,
    described: true,
  }
  const { probe: id, ...channel } = supply
  await garden.hear([{ id, at: AT - 500 * DAY, channels: [channel] }], 10)
  await garden.adoptProbe(id, id, AT - 500 * DAY)
  const spot = await garden.addSpot(bed.id, 'north')
  await garden.placeProbe(id, spot!.id, AT - 500 * DAY)
})
afterEach(async () => {
  await stores.close()
  dir[Symbol.dispose]()
})

/** Four readings a day on each of the last days; `volts(day)`, days counted back from today. */
async function measured(days: number, volts: (daysAgo: number) => number): Promise<void> {
  const readings: Reading[] = []
  for (let row = 0; row < days * 4; row++) {
    const at = TODAY - (days - 1) * DAY + row * 6 * HOUR
    readings.push({
      probe: 'fern1',
      boot: 1,
      seq: row,
      uptimeS: row * 21_600,
      at,
      placedBy: 'arrival',
      arrivedAt: at,
      deviceAt: null,
      flags: 0,
      values: [{ channel: 'bat', value: volts((AT - at) / DAY) }],
    })
  }
  await stores.readings.append({ readings, anchors: [], marks: [], quarantined: [] })
  await stores.readings.settle()
}

/** As the loop does it: hours of 45 days, readings of two, and the days. */
async function supplyNow(days = supplyDays(stores.readings), at = AT) {
  const [hourly, recent] = await Promise.all([
    loadFeeds(stores, bed, at - 45 * DAY, at, 'hour'),
    loadFeeds(stores, bed, at - 2 * DAY, at, 'raw'),
  ])
  return suppliesOf(hourly, recent, await days.of(recent, at)).get('fern1')!
}

test('a battery that empties over ten months is low by what it once had', async () => {
  await measured(300, (ago) => 3.35 + 0.0025 * ago)
  const { levels, lowBelow: limit } = await supplyNow()
  // 0.85 of what only a tenth of its days exceeded.
  expect(limit).toBeGreaterThan(0.85 * 4)
  expect(limit).toBeLessThan(0.85 * 4.1)
  expect(levels.every((level) => level < limit)).toBe(true)
})

test('a new battery of another kind is judged by what it had itself', async () => {
  await measured(200, (ago) => (ago > 20 ? 4.5 - 0.005 * (200 - ago) : 3.95))
  const { levels, lowBelow: limit } = await supplyNow()
  expect(limit).toBeCloseTo(0.85 * 3.95, 2)
  expect(levels.every((level) => level > limit)).toBe(true)
})

test('days are asked for once a day, not with every look', async () => {
  await measured(10, () => 4)
  let asked = 0
  const days = supplyDays({
    buckets(queries) {
      asked += queries.length
      return stores.readings.buckets(queries)
    },
  })
  for (let look = 0; look < 5; look++) await supplyNow(days, AT + look)
  expect(asked).toBe(1)
  await supplyNow(days, AT + DAY)
  expect(asked).toBe(2)
})

test('a probe of today is judged by its hours', async () => {
  const days = supplyDays(stores.readings)
  await days.of(await loadFeeds(stores, bed, AT - 2 * DAY, AT, 'raw'), AT)
  await measured(1, () => 4)
  expect((await supplyNow(days)).lowBelow).toBeCloseTo(0.85 * 4, 6)
})

test('one cold day is no empty battery, and the day after it no new one', () => {
  const days = [4.1, 4, 3.9, 3.8, 3.4, 3.75, 3.7]
  expect(sinceNewBattery(days)).toEqual(days)
  expect(sinceNewBattery([...days, NaN, 4.1, 4.1])[0]).toBe(4.1)
  expect(sinceNewBattery([])).toEqual([])
  expect(lowBelow('V', sinceNewBattery([]))).toBeNaN()
})
