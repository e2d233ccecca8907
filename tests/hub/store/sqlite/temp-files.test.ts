import { execFileSync } from 'node:child_process'
import { expect, test } from 'vitest'
import { tempDir } from '#tests/support/temp-dir.ts'

/** What a process that opened the stores of a folder has open of the engine's nameless files, by their folders. */
function foldersOfTempFiles(folder: string, env: Readonly<Record<string, string>> = {}): string[] {
  const script = `
    import { readdirSync, readlinkSync } from 'node:fs'
    import { dirname } from 'node:path'
    import { openStores } from './hub/store/open.ts'
    import { openDatabase } from './hub/store/sqlite/open-database.ts'
    const stores = await openStores(process.argv[1])
    const db = openDatabase(':memory:')
    // More than its cache: it goes to the disk.
    db.exec('PRAGMA temp.cache_size = 5; CREATE TEMP TABLE large AS WITH RECURSIVE n(i) AS ' +
      '(SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 2000) SELECT randomblob(4000) FROM n')
    const names = readdirSync('/proc/self/fd').flatMap((fd) => {
      try { return [readlinkSync('/proc/self/fd/' + fd)] } catch { return [] }
    })
    console.log(JSON.stringify(names.filter((name) => name.endsWith(' (deleted)')).map(dirname)))
    db.close()
    await stores.close()`
  const said = execFileSync(process.execPath, ['-e', script, folder], {
    encoding: 'utf8',
    env: { PATH: process.env['PATH'] ?? '', ...env },
  })
  return JSON.parse(said) as string[]
}

test('what the engine needs for a while lies on the disk of the data, not in a small /tmp', () => {
  using folder = tempDir()
  expect(new Set(foldersOfTempFiles(folder.path))).toEqual(new Set([folder.path]))
})

test('a place that the environment names stays', () => {
  using folder = tempDir()
  using other = tempDir()
  const found = foldersOfTempFiles(folder.path, { SQLITE_TMPDIR: other.path })
  expect(new Set(found)).toEqual(new Set([other.path]))
})
