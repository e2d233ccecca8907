import {
  appendFileSync,
  existsSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { expect, test } from 'vitest'
import type { Reading } from '#hub/model/reading.ts'
import { backUp, restore } from '#hub/store/backup.ts'
import { openStores } from '#hub/store/open.ts'
import { tempDir } from '../../support/temp-dir.ts'

const NOW = Date.parse('2026-06-01T12:00:00Z')
const MADE = { version: '1.2.3', now: NOW }

const reading = (seq: number): Reading => ({
  probe: 'fern1',
  boot: 1,
  seq,
  uptimeS: seq,
  at: NOW + seq * 1000,
  placedBy: 'arrival',
  arrivedAt: NOW,
  deviceAt: null,
  flags: 0,
  values: [{ channel: 'phmv', value: seq }],
})
const batch = (from: number, to: number) => ({
  readings: Array.from({ length: to - from }, (_, i) => reading(from + i)),
  anchors: [],
  marks: [],
  quarantined: [],
})

/** How many readings a data folder holds, and the names of its beds. */
async function holds(folder: string): Promise<{ seqs: number[]; beds: string[] }> {
  const stores = await openStores(folder)
  try {
    await stores.readings.settle()
    const [b] = await stores.readings.buckets([
      { probe: 'fern1', channel: 'phmv', from: 0, to: Infinity, step: 'raw' },
    ])
    return { seqs: [...b!.mean], beds: (await stores.garden.beds()).map(({ name }) => name) }
  } finally {
    await stores.close()
  }
}

test('a backup made while readings come in is whole: all of what was acknowledged before, no batch by halves', async () => {
  using dir = tempDir()
  const [data, to, back] = ['data', 'copy', 'back'].map((name) => join(dir.path, name))
  const stores = await openStores(data!)
  await stores.garden.addBed(
    { name: 'Fern bed', areaM2: 2, depthM: 0.3, texture: 'loam', crops: [], ownBand: null },
    NOW,
  )
  await stores.readings.append(batch(0, 3000))
  let next = 3000
  let writing = true
  const writer = (async () => {
    while (writing) {
      await stores.readings.append(batch(next, next + 50))
      next += 50
    }
  })()
  const manifest = await backUp(data!, to!, MADE)
  writing = false
  await writer
  await stores.close()
  expect(next).toBeGreaterThan(3000)
  expect(manifest.files.map(({ name }) => name)).toEqual(['readings.db', 'garden.db'])
  // Somebody who finds a backup must know what else they have found.
  expect(manifest.secrets).toContain('passwords and keys of routes for messages')
  expect(readdirSync(to!).sort()).toEqual(['backup.json', 'garden.db', 'readings.db'])

  await restore(to!, back!, { replace: false, now: NOW })
  const { seqs, beds } = await holds(back!)
  expect(beds).toEqual(['Fern bed'])
  expect(seqs.length).toBeGreaterThanOrEqual(3000)
  expect(seqs.length % 50).toBe(0)
  expect(seqs).toEqual(seqs.map((_, i) => i))
}, 60_000)

async function smallBackup(root: string): Promise<{ data: string; copy: string }> {
  const [data, copy] = [join(root, 'data'), join(root, 'copy')]
  const stores = await openStores(data)
  await stores.readings.append(batch(0, 10))
  await stores.close()
  await backUp(data, copy, MADE)
  return { data, copy }
}

test('restoring moves what is there aside when told to, and only then', async () => {
  using dir = tempDir()
  const { data, copy } = await smallBackup(dir.path)
  const later = await openStores(data)
  await later.readings.append(batch(10, 20))
  // A hub runs: nothing may be moved under it.
  await expect(restore(copy, data, { replace: true, now: NOW })).rejects.toMatchObject({
    code: 'HUB_STORE_LOCKED',
  })
  await later.close()
  await expect(restore(copy, data, { replace: false, now: NOW })).rejects.toThrow(
    /expected an empty data folder, found .*--replace/,
  )
  expect((await holds(data)).seqs).toHaveLength(20)

  const { before, manifest } = await restore(copy, data, { replace: true, now: NOW })
  expect(manifest).toMatchObject({ version: '1.2.3', madeAt: NOW })
  expect((await holds(data)).seqs).toHaveLength(10)
  expect((await holds(before!)).seqs).toHaveLength(20)
})

test('a backup that is not whole is refused and the folder left as it is', async () => {
  using dir = tempDir()
  const { copy } = await smallBackup(dir.path)
  const target = join(dir.path, 'target')
  const refused = (words: RegExp) =>
    expect(restore(copy, target, { replace: false, now: NOW })).rejects.toThrow(words)

  const manifest = readFileSync(join(copy, 'backup.json'), 'utf8')
  writeFileSync(join(copy, 'backup.json'), manifest.replace('"format": 1', '"format": 2'))
  await refused(/format 1, got 2/)
  writeFileSync(join(copy, 'backup.json'), manifest)

  const db = new DatabaseSync(join(copy, 'garden.db'))
  db.exec('PRAGMA user_version = 999')
  db.close()
  await refused(/garden\.db was changed or damaged/)
  // Even with the right sum: a newer layout.
  const { createHash } = await import('node:crypto')
  const sum = createHash('sha256')
    .update(readFileSync(join(copy, 'garden.db')))
    .digest('hex')
  const parsed = JSON.parse(manifest) as { files: { name: string; sha256: string }[] }
  parsed.files.find(({ name }) => name === 'garden.db')!.sha256 = sum
  writeFileSync(join(copy, 'backup.json'), JSON.stringify(parsed))
  await refused(/written by a newer Loamline \(version 1\.2\.3; its layout is number 999/)

  appendFileSync(join(copy, 'readings.db'), 'x')
  await refused(/readings\.db was changed or damaged/)
  rmSync(join(copy, 'readings.db'))
  await refused(/expected readings\.db in the backup/)
  rmSync(join(copy, 'backup.json'))
  await refused(/found no backup\.json/)
  expect(existsSync(target)).toBe(false)
})

test('a backup goes to an empty folder, from a data folder', async () => {
  using dir = tempDir()
  const { data, copy } = await smallBackup(dir.path)
  await expect(backUp(data, copy, MADE)).rejects.toThrow(/expected an empty folder for the backup/)
  await expect(backUp(dir.path, join(dir.path, 'x'), MADE)).rejects.toThrow(/found no readings\.db/)
  expect(existsSync(join(dir.path, 'x'))).toBe(false)
})

test('passwords of probes are in a backup as hashes alone', async () => {
  using dir = tempDir()
  const { copy } = await smallBackup(dir.path)
  const db = new DatabaseSync(join(copy, 'garden.db'), { readOnly: true })
  const columns = db
    .prepare("SELECT name FROM pragma_table_info('credential')")
    .all()
    .map((row) => String(row['name']))
  db.close()
  expect(columns).not.toHaveLength(0)
  expect(columns.filter((name) => /^(password|secret|plain)$/.test(name))).toEqual([])
})
