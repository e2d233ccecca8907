import { readFileSync, renameSync } from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { DAY } from '#hub/model/clock.ts'
import type { NewJournalEntry } from '#hub/model/journal.ts'
import type { NewPlan } from '#hub/model/plan.ts'
import type { NewSoilTest } from '#hub/model/soil.ts'
import type { GardenStore } from '#hub/store/garden-store.ts'
import { openStores, type Stores } from '#hub/store/open.ts'
import { tempDir } from '../../support/temp-dir.ts'

const AT = 1_780_000_000_000
const BED = {
  name: 'Fern bed',
  areaM2: 2,
  depthM: 0.2,
  texture: 'loam',
  crops: [],
  ownBand: null,
} as const

let dir: ReturnType<typeof tempDir>
let stores: Stores
let garden: GardenStore
beforeEach(async () => {
  dir = tempDir()
  stores = await openStores(dir.path)
  garden = stores.garden
})
afterEach(async () => {
  await stores.close()
  dir[Symbol.dispose]()
})

const treatment = (bedId: number, at = AT): NewJournalEntry => ({
  bedId,
  at,
  kind: 'treatment',
  material: 'ground limestone',
  amountG: 300,
  waterL: null,
  probe: null,
  ph: null,
  method: null,
  text: 'first',
})
const stage = (dueAt: number) => ({
  dueAt,
  amountG: 300,
  change: { low: 0.2, typical: 0.4, high: 0.7 },
  fullFrom: dueAt + 86 * DAY,
  fullBy: dueAt + 180 * DAY,
  retestsAt: [dueAt + 90 * DAY, dueAt + 180 * DAY],
  entryId: null,
})
const planFor = (bedId: number): NewPlan => ({
  bedId,
  material: 'ground-limestone',
  strength: 0.9,
  fromPh: 5.6,
  targetPh: 6.3,
  buffering: { low: 300, typical: 400, high: 550 },
  basis: 'By its texture.',
  stages: [stage(AT), stage(AT + 90 * DAY)],
})

test('the soil of a bed: nothing known, then what was said, then something else', async () => {
  const { id } = await garden.addBed(BED, AT)
  const nothing = { bedId: id, bulkDensity: null, planting: null, hardWater: null }
  expect(await garden.bedSoil(id)).toEqual(nothing)
  const said = { bedId: id, bulkDensity: 900, planting: 'standing', hardWater: false } as const
  expect(await garden.setBedSoil(said)).toEqual(said)
  expect(await garden.setBedSoil({ ...said, hardWater: null })).toEqual({
    ...said,
    hardWater: null,
  })
  expect(await garden.setBedSoil(nothing)).toEqual(nothing)
  expect(await garden.bedSoil(77)).toBeNull()
  expect(await garden.setBedSoil({ ...said, bedId: 77 })).toBeNull()
})

test('soil tests of every kind come back as they were, oldest first', async () => {
  const one = await garden.addBed(BED, AT)
  const other = await garden.addBed({ ...BED, name: 'Moss bed' }, AT)
  const at = (days: number, bedId = one.id) => ({ bedId, at: AT + days * DAY, text: 'x' })
  const jars = [
    { limeG: 0, ph: 5.5 },
    { limeG: 0.5, ph: 6.1 },
    { limeG: 1, ph: 6.6 },
  ]
  const all: NewSoilTest[] = [
    { ...at(3), kind: 'vinegar test', fizzes: false },
    { ...at(1), kind: 'lime requirement', limeGM2: 300, depthM: 0.15, fromPh: 5.5, toPh: 6.5 },
    { ...at(2), kind: 'jar test', soilG: 500, jars },
    { ...at(4, other.id), kind: 'exchangeable acidity', meqPer100G: 3.1, ph: 5.4 },
  ]
  const stored = []
  for (const body of all) stored.push(await garden.addSoilTest(body))
  expect(stored).toEqual(all.map((body) => ({ ...body, id: expect.any(Number) })))
  expect((await garden.soilTests(one.id)).map(({ kind }) => kind)).toEqual([
    'lime requirement',
    'jar test',
    'vinegar test',
  ])
  expect(await garden.soilTests()).toHaveLength(4)
  expect(await garden.removeSoilTest(stored[0]!.id)).toBe(true)
  expect(await garden.removeSoilTest(stored[0]!.id)).toBe(false)
  expect(await garden.soilTests(one.id)).toHaveLength(2)
})

test('a plan: one runs at a time, its portions are done once, removing an entry undoes one', async () => {
  const { id: bedId } = await garden.addBed(BED, AT)
  const plan = (await garden.addPlan(planFor(bedId), AT))!
  expect(plan).toMatchObject({ ...planFor(bedId), createdAt: AT, closedAt: null, ending: null })
  expect(await garden.plan(plan.id)).toEqual(plan)
  expect(await garden.addPlan(planFor(bedId), AT), 'another one runs').toBeNull()

  const done = (await garden.doStage(plan.id, 0, treatment(bedId)))!
  expect(done.entry).toMatchObject(treatment(bedId))
  expect(done.plan.stages.map(({ entryId }) => entryId)).toEqual([done.entry.id, null])
  expect(await garden.doStage(plan.id, 0, treatment(bedId)), 'done before').toBeNull()
  expect(await garden.doStage(plan.id, 2, treatment(bedId)), 'no such portion').toBeNull()
  expect(await garden.doStage(99, 0, treatment(bedId)), 'no such plan').toBeNull()
  expect(await garden.journal({ bedId }), 'what was refused wrote nothing').toHaveLength(1)

  expect(await garden.removeEntry(done.entry.id)).toBe(true)
  expect((await garden.plan(plan.id))!.stages[0]!.entryId).toBeNull()

  expect(await garden.closePlan(plan.id, 'given up', AT + DAY)).toMatchObject({
    closedAt: AT + DAY,
    ending: 'given up',
  })
  expect(await garden.closePlan(plan.id, 'reached', AT + DAY)).toBeNull()
  expect(await garden.doStage(plan.id, 0, treatment(bedId)), 'closed').toBeNull()
  const next = (await garden.addPlan(planFor(bedId), AT + 2 * DAY))!
  expect((await garden.plans(bedId)).map(({ id }) => id)).toEqual([next.id, plan.id])
  expect(await garden.plans()).toHaveLength(2)
})

test('a bed that goes out of use gives up its plan, once', async () => {
  const { id: bedId } = await garden.addBed(BED, AT)
  const other = await garden.addBed({ ...BED, name: 'Moss bed' }, AT)
  const ended = (await garden.addPlan(planFor(bedId), AT))!
  await garden.closePlan(ended.id, 'reached', AT + DAY)
  const running = (await garden.addPlan(planFor(bedId), AT + 2 * DAY))!
  const elsewhere = (await garden.addPlan(planFor(other.id), AT))!
  await garden.retireBed(bedId, AT + 3 * DAY)
  await garden.retireBed(bedId, AT + 4 * DAY)
  expect(await garden.plan(ended.id)).toMatchObject({ ending: 'reached', closedAt: AT + DAY })
  expect(await garden.plan(running.id)).toMatchObject({
    ending: 'given up',
    closedAt: AT + 3 * DAY,
  })
  expect(await garden.plan(elsewhere.id)).toMatchObject({ closedAt: null })
})

test('a plan that names an entry nobody knows is refused whole', async () => {
  const { id: bedId } = await garden.addBed(BED, AT)
  const wrong = { ...planFor(bedId), stages: [stage(AT), { ...stage(AT + DAY), entryId: 41 }] }
  await expect(garden.addPlan(wrong, AT)).rejects.toThrow()
  expect(await garden.plans()).toEqual([])
})

test('season, currency and prices are set together', async () => {
  const none = { season: null, currency: null, prices: [] }
  expect(await garden.planningSettings()).toEqual(none)
  const some = {
    season: { from: '04-01', to: '10-15' },
    currency: 'EUR',
    prices: [
      { material: 'ground-limestone', perKg: 0.8 },
      { material: 'sulfur', perKg: 4.5 },
    ],
  }
  expect(await garden.setPlanningSettings(some)).toEqual(some)
  expect(await garden.planningSettings()).toEqual(some)
  expect(await garden.setPlanningSettings(none)).toEqual(none)
})

test('a photo belongs to an entry and goes with it', async () => {
  const { id: bedId } = await garden.addBed(BED, AT)
  const { id } = await garden.addEntry(treatment(bedId))
  const bytes = Uint8Array.from({ length: 200_000 }, (_, i) => i % 251)
  expect(await garden.setPhoto({ entryId: id, type: 'image/jpeg', bytes })).toBe(true)
  expect(await garden.photo(id)).toEqual({ entryId: id, type: 'image/jpeg', bytes })
  const smaller = bytes.slice(0, 9)
  expect(await garden.setPhoto({ entryId: id, type: 'image/png', bytes: smaller })).toBe(true)
  expect(await garden.photo(id)).toEqual({ entryId: id, type: 'image/png', bytes: smaller })
  expect(await garden.photos(bedId)).toEqual([id])
  expect(await garden.setPhoto({ entryId: 99, type: 'image/jpeg', bytes })).toBe(false)
  await garden.changeEntry(id, { ...treatment(bedId), text: 'changed' })
  expect(await garden.photos(bedId), 'a changed entry keeps its photo').toEqual([id])
  expect(await garden.removeEntry(id)).toBe(true)
  expect(await garden.photo(id)).toBeNull()
  expect(await garden.removePhoto(id)).toBe(false)
})

test('a garden of the version before plans goes on with everything it had', async () => {
  const { id: bedId } = await garden.addBed(BED, AT)
  const entry = await garden.addEntry(treatment(bedId))
  await stores.close()
  // What the version before would have left behind: its layout, with everything it had a place for.
  const file = join(dir.path, 'garden.db')
  const present = `${file}.present`
  renameSync(file, present)
  const db = new DatabaseSync(file)
  for (const step of ['001-garden', '002-trials'])
    db.exec(readFileSync(`hub/store/migrations/garden/${step}.sql`, 'utf8'))
  db.prepare('ATTACH ? AS present').run(present)
  const columnsOf = (schema: string, table: string): string[] =>
    db
      .prepare(`PRAGMA ${schema}.table_info(${table})`)
      .all()
      .map((row) => String(row['name']))
  const tables = db
    .prepare("SELECT name FROM main.sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
    .all()
    .map((row) => String(row['name']))
  for (const table of tables) {
    const known = columnsOf('present', table)
    const columns = columnsOf('main', table).filter((name) => known.includes(name))
    const list = columns.map((name) => `"${name}"`).join(', ')
    db.exec(`INSERT OR REPLACE INTO main.${table} (${list}) SELECT ${list} FROM present.${table}`)
  }
  db.exec('PRAGMA user_version = 2')
  db.close()
  stores = await openStores(dir.path)
  garden = stores.garden
  expect(await garden.entry(entry.id)).toEqual(entry)
  expect(await garden.addPlan(planFor(bedId), AT)).not.toBeNull()
})
