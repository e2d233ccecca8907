import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { cpSync, mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { expect, onTestFinished, test } from 'vitest'
import { newestLayout } from '#hub/store/sqlite/migrate.ts'
import { openStores } from '#hub/store/open.ts'
import type { ReadingStore } from '#hub/store/reading-store.ts'
import { seededRandom } from '../support/random.ts'
import { tempDir } from '../support/temp-dir.ts'
import { databaseOf, migrationsOf, rowsByTable, writeOldGarden } from './support/old-garden.ts'
import { writeOldReadings } from './support/old-readings.ts'
import type { OldReadings } from './support/old-readings.ts'

/*
 * Data of every earlier layout, opened by this hub: all of it is there, as it was, also when the hub dies on the way.
 */

const PER_PROBE = 1200
const BOUNDED = 3
const ALWAYS = { from: 0, to: Number.MAX_SAFE_INTEGER }
const layouts = (database: 'garden' | 'readings'): readonly number[] =>
  migrationsOf(database)
    .map(({ version }) => version)
    .filter((version) => version < newestLayout(database))

test.for(layouts('garden'))('upgrade of a garden of layout %i keeps every row', async (layout) => {
  using folder = tempDir()
  const file = join(folder.path, 'garden.db')
  const before = writeOldGarden(file, layout)
  for (const [table, rows] of Object.entries(before))
    expect(
      rows.length,
      `rows in ${table}: tests/faults/support/old-garden.ts needs some`,
    ).toBeGreaterThan(0)
  const stores = await openStores(folder.path)
  const { garden } = stores
  // What reads them can.
  expect(await garden.garden()).toMatchObject({ name: 'Behind the shed', zone: 'Europe/Madrid' })
  expect((await garden.beds({ retired: true })).map(({ name }) => name)).toEqual([
    'Alder',
    'Birch, old',
  ])
  expect(await garden.calibrations()).toHaveLength(2)
  expect(await garden.placements()).toHaveLength(2)
  expect(await garden.journal({})).toHaveLength(3)
  const alarms = await garden.alarms(10)
  expect(alarms.map(({ priority }) => priority)).toEqual(['medium', 'high'])
  expect(alarms[0]!.evidence).toMatchObject({ from: 6.4, to: 7.1 })
  if (layout >= 3) expect((await garden.plans())[0]!.stages).toHaveLength(1)
  if (layout >= 4) expect(await garden.credentials()).toHaveLength(2)
  if (layout >= 6) expect(await garden.orders('row1', 10)).toHaveLength(2)
  if (layout >= 9) expect(await garden.messages({ limit: 10 })).toHaveLength(1)
  if (layout >= 10) expect((await garden.accounts()).people).toHaveLength(1)
  await stores.close()

  const db = new DatabaseSync(file, { readOnly: true })
  const after = rowsByTable(db)
  db.close()
  for (const [table, rows] of Object.entries(before)) {
    expect(after[table], table).toHaveLength(rows.length)
    for (const row of rows) expect(after[table], table).toContainEqual(expect.objectContaining(row))
  }
})

async function compare(readings: ReadingStore, old: OldReadings): Promise<void> {
  await readings.settle()
  for (const probe of ['row1', 'row2', 'row3']) {
    const mine = old.readings.filter((one) => one.probe === probe)
    const timed = mine.filter(({ placedBy }) => placedBy !== BOUNDED)
    for (const channel of ['phmv', 'm1', 'st'] as const) {
      const steps = ['raw', 'hour', 'day'] as const
      const [raw, ...rolled] = await readings.buckets(
        steps.map((step) => ({ probe, channel, ...ALWAYS, step })),
      )
      const values = timed.map((one) => one.values[channel] ?? NaN)
      expect([...raw!.time], `${probe} ${channel}`).toEqual(timed.map(({ at }) => at))
      expect([...raw!.mean], `${probe} ${channel}`).toEqual(values)
      const known = values.filter((value) => !Number.isNaN(value))
      for (const { count, min, max } of rolled) {
        expect(count.reduce((a, b) => a + b, 0)).toBe(known.length)
        expect(Math.max(...[...max].filter((v) => !Number.isNaN(v)))).toBe(Math.max(...known))
        expect(Math.min(...[...min].filter((v) => !Number.isNaN(v)))).toBe(Math.min(...known))
      }
    }
    const { mark, ahead, anchors } = await readings.recall(probe, 4)
    expect(mark).toMatchObject({ top: PER_PROBE - 1, lost: 0, missing: 0, highest: PER_PROBE - 1 })
    expect(ahead).toEqual([])
    expect(anchors).toHaveLength(1)
    const [account] = await readings.accounts(probe)
    expect(account).toMatchObject({ received: PER_PROBE, missing: 0, lost: 0, conflicting: 0 })
    const newest = await readings.newest(probe, 5)
    expect(newest.map(({ seq }) => seq)).toEqual(
      mine
        .slice(-5)
        .map(({ seq }) => seq)
        .toReversed(),
    )
    const latest = await readings.latest(probe)
    expect(latest.map(({ channel }) => channel).toSorted()).toEqual(['m1', 'phmv', 'st'])
    for (const { at } of latest) expect(at).toBe(timed.at(-1)!.at)
  }
  expect(await readings.counts()).toEqual({
    readings: old.readings.length,
    duplicates: old.duplicates,
    quarantined: 2,
    quarantineDropped: 0,
    lost: 0,
  })
  expect(await readings.quarantine(10)).toHaveLength(2)
}

test.for([1, 2] as const)(
  'upgrade of readings of layout %i keeps every reading, the unsettled ones too',
  { timeout: 60_000 },
  async (layout) => {
    using folder = tempDir()
    const old = writeOldReadings(join(folder.path, 'readings.db'), layout, PER_PROBE)
    databaseOf(join(folder.path, 'garden.db'), 'garden', 1).close()
    const stores = await openStores(folder.path)
    try {
      await compare(stores.readings, old)
    } finally {
      await stores.close()
    }
    // And once more, now that it is up to date.
    const again = await openStores(folder.path)
    try {
      await compare(again.readings, old)
    } finally {
      await again.close()
    }
  },
)

test(
  'upgrade cut off by kill -9 at any moment begins again and keeps everything',
  { timeout: 120_000 },
  async () => {
    using folder = tempDir()
    const source = join(folder.path, 'source')
    mkdirSync(source)
    const old = writeOldReadings(join(source, 'readings.db'), 1, PER_PROBE)
    writeOldGarden(join(source, 'garden.db'), 1)
    const target = join(folder.path, 'target')
    cpSync(source, target, { recursive: true })
    const random = seededRandom(72)
    for (let kill = 0; kill < 5; kill++) {
      const child = spawn(
        process.execPath,
        ['tests/support/intake-host.ts', target, 'embedded', '0'],
        { stdio: 'ignore' },
      )
      onTestFinished(() => void child.kill('SIGKILL'))
      const exit = once(child, 'exit')
      await new Promise((resolve) => setTimeout(resolve, 60 + random() * 700))
      child.kill('SIGKILL')
      await exit
      expect(child.signalCode).toBe('SIGKILL')
    }
    const stores = await openStores(target)
    try {
      await compare(stores.readings, old)
      expect(await stores.garden.journal({})).toHaveLength(3)
    } finally {
      await stores.close()
    }
  },
)
