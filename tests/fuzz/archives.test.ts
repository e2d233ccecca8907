import { createHash } from 'node:crypto'
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import fc from 'fast-check'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { backUp, restore } from '#hub/store/backup.ts'
import { openStores } from '#hub/store/open.ts'
import { tarOf, untar } from '#hub/transfer/tar.ts'
import { tempDir } from '../support/temp-dir.ts'
import { longest, runs } from './size.ts'

/*
 * Backups that somebody has worked on: archives with bytes changed, cut off, doubled; databases that are damaged or act
 * by themselves, with a manifest that fits them. Each is put in place whole or refused in a sentence, and what lay in
 * the data folder stays.
 */

const NOW = 1_780_000_000_000
const dir = tempDir()
let archive: Buffer

beforeAll(async () => {
  const data = join(dir.path, 'data')
  const stores = await openStores(data)
  await stores.garden.addBed(
    { name: 'Fern bed', areaM2: 2, depthM: 0.3, texture: 'loam', crops: [], ownBand: null },
    NOW,
  )
  await stores.close()
  const to = join(dir.path, 'backup')
  await backUp(data, to, { version: '1.2.3', now: NOW })
  const files = ['readings.db', 'garden.db', 'backup.json'].map((name) => join(to, name))
  archive = Buffer.concat(await Array.fromAsync(tarOf(files, NOW)))
})
afterAll(() => dir[Symbol.dispose]())

/** Unpacks and restores into a folder in which something lies; resolves to why it was refused, null when it was not. */
async function restored(bytes: Uint8Array, work: (folder: string) => void = () => {}) {
  const place = mkdtempSync(join(dir.path, 'try-'))
  try {
    const [file, folder, data] = ['a.tar', 'unpacked', 'target'].map((name) => join(place, name))
    writeFileSync(file!, bytes)
    const made = mkdtempSync(`${folder!}-`)
    let refused: string | null = null
    try {
      await untar(file!, made)
      work(made)
      await restore(made, data!, { replace: false, now: NOW })
    } catch (error) {
      expect(error).toBeInstanceOf(Error)
      expect(['TypeError', 'RangeError', 'SyntaxError', 'ReferenceError']).not.toContain(
        (error as Error).name,
      )
      refused = (error as Error).message
      expect(refused).not.toBe('')
    }
    const left = existsSync(data!)
      ? readdirSync(data!).filter((name) => !name.startsWith('hub.lock'))
      : []
    if (refused !== null) expect(left).toEqual([])
    else expect(left.toSorted()).toEqual(['garden.db', 'readings.db'])
    // Nothing was written beside the folders that were named.
    expect(
      readdirSync(place).filter((name) => !/^(a\.tar|unpacked-.*|target)$/.test(name)),
    ).toEqual([])
    return refused
  } finally {
    rmSync(place, { recursive: true, force: true })
  }
}

const change = fc.record({
  how: fc.constantFrom('flip', 'cut', 'double', 'zero'),
  at: fc.oneof(fc.double({ min: 0, max: 1, noNaN: true }), fc.constantFrom(0, 0.0001, 0.001)),
  by: fc.uint8Array({ minLength: 1, maxLength: 16 }),
})

test(
  'an archive with bytes changed is put in place whole or refused, and nothing else happens',
  async () => {
    expect(await restored(archive)).toBeNull()
    let refusals = 0
    await fc.assert(
      fc.asyncProperty(fc.array(change, { minLength: 1, maxLength: 3 }), async (changes) => {
        let bytes = Buffer.from(archive)
        for (const { how, at, by } of changes) {
          const from = Math.floor(at * bytes.length)
          if (how === 'cut') bytes = bytes.subarray(0, from)
          else if (how === 'double') bytes = Buffer.concat([bytes, bytes.subarray(from)])
          else if (how === 'zero') bytes.fill(0, from, Math.min(from + 512, bytes.length))
          else for (const [i, byte] of by.entries()) bytes[from + i] = byte
        }
        if ((await restored(bytes)) !== null) refusals++
      }),
      runs(40),
    )
    expect(refusals).toBeGreaterThan(10)
  },
  longest(60_000),
)

/** Gives a file of the backup other content, and the manifest the hash that fits it. */
function replaceFile(folder: string, name: string, content: Buffer): void {
  writeFileSync(join(folder, name), content)
  const path = join(folder, 'backup.json')
  const manifest = JSON.parse(readFileSync(path, 'utf8')) as {
    files: { name: string; sha256: string }[]
  }
  const sha256 = createHash('sha256').update(content).digest('hex')
  for (const file of manifest.files) if (file.name === name) file.sha256 = sha256
  writeFileSync(path, JSON.stringify(manifest))
}

test.each([
  ['no database at all', () => Buffer.from('not a database'.repeat(100))],
  ['an empty file', () => Buffer.alloc(0)],
  ['a header alone', (whole: Buffer) => whole.subarray(0, 100)],
  [
    'pages of zeros',
    (whole: Buffer) => Buffer.concat([whole.subarray(0, 4096), Buffer.alloc(40_960)]),
  ],
  ['half a database', (whole: Buffer) => whole.subarray(0, whole.length / 2)],
] as const)('a database that is %s is refused, though its hash fits', async (_, made) => {
  const refused = await restored(archive, (folder) => {
    replaceFile(folder, 'garden.db', Buffer.from(made(readFileSync(join(folder, 'garden.db')))))
  })
  expect(refused).toMatch(/garden\.db/)
})

test.each([
  'TRIGGER planted AFTER INSERT ON bed BEGIN DELETE FROM bed; END',
  'VIEW planted AS SELECT 1',
])('a database that acts by itself is refused: %s', async (what) => {
  const refused = await restored(archive, (folder) => {
    const db = new DatabaseSync(join(folder, 'garden.db'))
    db.exec(`CREATE ${what}`)
    db.close()
    replaceFile(folder, 'garden.db', readFileSync(join(folder, 'garden.db')))
  })
  expect(refused).toMatch(/planted.*no hub has made/)
})
