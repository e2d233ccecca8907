import { afterEach, beforeEach, expect, test } from 'vitest'
import { type HubFacts, watchRest } from '#hub/evaluation/watch-rest.ts'
import { DAY, HOUR, MINUTE } from '#hub/model/clock.ts'
import type { Reading } from '#hub/model/reading.ts'
import { openStores, type Stores } from '#hub/store/open.ts'
import { tempDir } from '../../support/temp-dir.ts'

const NOW = 1_780_000_000_000
const PROBES = ['fern1', 'fern2'] as const

let dir: ReturnType<typeof tempDir>
let stores: Stores
let facts: HubFacts
beforeEach(async () => {
  dir = tempDir()
  stores = await openStores(dir.path, { zone: 'UTC' })
  facts = { troubles: [], disk: null, listeningSince: NOW - 30 * DAY }
  const { garden } = stores
  const bed = await garden.addBed(
    { name: 'Fern bed', areaM2: 2, depthM: 0.25, texture: 'loam', crops: [], ownBand: null },
    NOW - 40 * DAY,
  )
  for (const probe of PROBES) {
    await garden.hear([{ id: probe, at: NOW - 40 * DAY, intervalS: 900 }], 10)
    await garden.adoptProbe(probe, `the ${probe}`, NOW - 40 * DAY)
    const spot = await garden.addSpot(bed.id, `spot of ${probe}`)
    await garden.placeProbe(probe, spot!.id, NOW - 40 * DAY)
  }
})
afterEach(async () => {
  await stores.close()
  dir[Symbol.dispose]()
})

let seq = 0
async function send(probe: string, at: number, flags = 0): Promise<void> {
  seq++
  const reading: Reading = {
    probe,
    boot: 1,
    seq,
    uptimeS: seq * 900,
    at,
    placedBy: 'arrival',
    arrivedAt: at,
    deviceAt: null,
    flags,
    values: [{ channel: 'm1', value: 1800 + seq }],
  }
  await stores.readings.append({ readings: [reading], anchors: [], marks: [], quarantined: [] })
  await stores.readings.settle()
}
const rest = async (at: number) =>
  (await watchRest({ ...stores, hub: async () => facts }, new Map(), at)).map(
    ({ kind, subject, state }) => `${kind} ${subject} ${state}`,
  )

test('a probe falls silent though nothing arrives, and is well again once it sends', async () => {
  await send('fern1', NOW)
  await send('fern2', NOW)
  expect(await rest(NOW + 20 * MINUTE)).toEqual([])
  await send('fern2', NOW + 40 * MINUTE)
  expect(await rest(NOW + 50 * MINUTE)).toEqual(['probe-silent fern1 unacknowledged'])
  expect(await rest(NOW + 55 * MINUTE)).toEqual([])
  const [alarm] = await stores.garden.openAlarms()
  expect(alarm!.sentence).toContain('Fern bed: probe the fern1 (spot of fern1) is silent.')
  for (let minute = 60; minute <= 100; minute += 10) {
    await send('fern1', NOW + minute * MINUTE)
    await send('fern2', NOW + minute * MINUTE)
    await rest(NOW + minute * MINUTE)
  }
  expect(await stores.garden.openAlarms()).toMatchObject([{ state: 'returned' }])
})

test('all of them silent is one alarm about the hub; each gets its own when one is heard again', async () => {
  await send('fern1', NOW)
  await send('fern2', NOW)
  expect(await rest(NOW + 2 * HOUR)).toEqual(['hub-trouble broker unacknowledged'])
  await send('fern2', NOW + 2 * HOUR)
  // The trouble covers them until it has been over for a while.
  expect(await rest(NOW + 2 * HOUR + MINUTE)).toEqual(['hub-trouble broker unacknowledged'])
  await send('fern2', NOW + 2 * HOUR + 12 * MINUTE)
  expect(await rest(NOW + 2 * HOUR + 13 * MINUTE)).toEqual([
    'hub-trouble broker returned',
    'probe-silent fern1 unacknowledged',
  ])
})

test('while the hub does not listen nobody is silent', async () => {
  await send('fern1', NOW)
  facts = { ...facts, listeningSince: null }
  expect(await rest(NOW + 9 * HOUR)).toEqual([])
})

test('a supply that the probe calls low is told from the flags of its newest readings', async () => {
  for (const minute of [0, 15, 30]) {
    await send('fern1', NOW + minute * MINUTE, 4)
    await send('fern2', NOW + minute * MINUTE, minute === 15 ? 4 : 0)
  }
  expect(await rest(NOW + 31 * MINUTE)).toEqual(['battery-low fern1 unacknowledged'])
})

test('what lay on the shelf comes back by itself, also when nothing else happens', async () => {
  await send('fern1', NOW)
  await send('fern2', NOW)
  facts = {
    ...facts,
    troubles: [{ subject: 'delivery', since: NOW - HOUR, sentence: 'Mail does not get through.' }],
  }
  expect(await rest(NOW)).toEqual(['hub-trouble delivery unacknowledged'])
  const [alarm] = await stores.garden.openAlarms()
  await stores.garden.saveAlarms([
    {
      alarm: { ...alarm!, shelvedUntil: NOW + 10 * MINUTE },
      at: NOW,
      what: 'shelved',
      by: 'Ona',
      note: '',
    },
  ])
  expect(await rest(NOW + 9 * MINUTE)).toEqual([])
  expect(await rest(NOW + 10 * MINUTE)).toEqual(['hub-trouble delivery unacknowledged'])
  expect((await stores.garden.alarmChanges({ limit: 9 })).map(({ what }) => what)).toEqual([
    'raised',
    'shelved',
    'unshelved',
  ])
})
