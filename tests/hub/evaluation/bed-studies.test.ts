import { afterEach, beforeEach, expect, test } from 'vitest'
import { bedStudies, type BedStudies } from '#hub/evaluation/bed-studies.ts'
import { GRACE_MS, type BedWatch, watchFold } from '#hub/evaluation/fold-watch.ts'
import type { Bed } from '#hub/model/bed.ts'
import { DAY, HOUR } from '#hub/model/clock.ts'
import { openStores, type Stores } from '#hub/store/open.ts'
import { tempDir } from '../../support/temp-dir.ts'
import { appendAll, FIRST, gardenReadings, plantGarden } from '../../support/watched-garden.ts'

const NOON = FIRST + 5.5 * DAY

let dir: ReturnType<typeof tempDir>
let stores: Stores
let beds: readonly Bed[]
let watches: ReadonlyMap<number, BedWatch>
let studies: BedStudies
let daysRead = 0
beforeEach(async () => {
  dir = tempDir()
  stores = await openStores(dir.path)
  await plantGarden(stores)
  await appendAll(stores, gardenReadings(5))
  beds = await stores.garden.beds()
  const fold = watchFold(stores)
  watches = await fold.upTo(beds, NOON + GRACE_MS)
  daysRead = 0
  studies = bedStudies({
    garden: stores.garden,
    fold: {
      ...fold,
      days: (bedId) => {
        daysRead++
        return fold.days(bedId)
      },
    },
  })
})
afterEach(async () => {
  await stores.close()
  dir[Symbol.dispose]()
})

/** Ids of the beds that were gone through until nothing was left to do. */
async function goneThrough(at: number): Promise<number[]> {
  const out: number[] = []
  for (;;) {
    const id = await studies.goOn(beds, watches, at)
    if (id === null) return out
    out.push(id)
    expect(out.length, 'it comes to an end').toBeLessThanOrEqual(beds.length)
  }
}

test('every bed is gone through once a UTC day, one at a time, and its days are read once', async () => {
  const ids = beds.map(({ id }) => id)
  expect(ids.map((id) => studies.latest(id))).toEqual([null, null])
  expect(await goneThrough(NOON)).toEqual(ids)
  expect(daysRead).toBe(beds.length)
  const [fern] = beds
  const first = studies.latest(fern!.id)!
  expect(first.at).toBe(NOON)
  expect(first.days.bed.day.length).toBeGreaterThanOrEqual(4)
  // Later on the same day nothing is due; just after midnight UTC everything is.
  expect(await goneThrough(NOON + 11 * HOUR)).toEqual([])
  expect(studies.latest(fern!.id)).toBe(first)
  expect(await goneThrough(NOON + 12 * HOUR)).toEqual(ids)
  expect(studies.latest(fern!.id)!.at).toBe(NOON + 12 * HOUR)
  expect(daysRead).toBe(2 * beds.length)
})

test('an edit makes its own bed due again, with the journal as it is now', async () => {
  await goneThrough(NOON)
  const [fern, moss] = beds
  const kept = studies.latest(fern!.id)
  expect(studies.latest(moss!.id)!.effects).toEqual([])
  await stores.garden.addEntry({
    bedId: moss!.id,
    at: FIRST + 2 * DAY,
    kind: 'treatment',
    material: 'garden lime',
    amountG: 100,
    waterL: null,
    probe: null,
    ph: null,
    method: null,
    text: '',
  })
  studies.outdated(moss!.id)
  expect(await goneThrough(NOON + HOUR)).toEqual([moss!.id])
  expect(studies.latest(moss!.id)!.effects.map(({ material }) => material)).toEqual(['garden lime'])
  expect(studies.latest(fern!.id)).toBe(kept)
})

test('a bed that is no longer in use is forgotten', async () => {
  await goneThrough(NOON)
  const [fern, moss] = beds
  beds = [moss!]
  expect(await goneThrough(NOON + HOUR)).toEqual([])
  expect(studies.latest(fern!.id)).toBeNull()
  expect(studies.latest(moss!.id)).not.toBeNull()
})

test('a bed whose watch is not there yet is left for later', async () => {
  watches = new Map()
  expect(await goneThrough(NOON)).toEqual([])
  expect(beds.map(({ id }) => studies.latest(id))).toEqual([null, null])
})
