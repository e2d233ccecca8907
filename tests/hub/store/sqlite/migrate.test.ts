import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { DatabaseSync } from 'node:sqlite'
import { pathToFileURL } from 'node:url'
import { expect, test } from 'vitest'
import { openStores } from '#hub/store/open.ts'
import { migrate, schemaVersion } from '#hub/store/sqlite/migrate.ts'
import { tempDir } from '#tests/support/temp-dir.ts'

const tables = (db: DatabaseSync): unknown[] =>
  db
    .prepare(`SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name`)
    .all()
    .map(({ name }) => name)

test('steps run once, in order, and later ones join them', () => {
  using folder = tempDir()
  const url = pathToFileURL(`${folder.path}/`)
  const db = new DatabaseSync(':memory:')
  writeFileSync(
    join(folder.path, '002-b.sql'),
    'CREATE TABLE b (x REFERENCES a) STRICT'.replace('x', 'x INT'),
  )
  writeFileSync(
    join(folder.path, '001-a.sql'),
    'CREATE TABLE a (x INT) STRICT; INSERT INTO a VALUES (1)',
  )
  writeFileSync(join(folder.path, 'notes.txt'), 'not SQL')
  migrate(db, url, 'x.db')
  migrate(db, url, 'x.db')
  expect(schemaVersion(db)).toBe(2)
  writeFileSync(join(folder.path, '003-c.sql'), 'CREATE TABLE c (x INT) STRICT')
  migrate(db, url, 'x.db')
  expect(tables(db)).toEqual(['a', 'b', 'c'])
  expect(db.prepare('SELECT count(*) AS n FROM a').get()).toEqual({ n: 1 })
  db.close()
})

test('a step that fails leaves the database as it was, with the steps before it undone too', () => {
  using folder = tempDir()
  const db = new DatabaseSync(':memory:')
  writeFileSync(join(folder.path, '001-a.sql'), 'CREATE TABLE a (x INT) STRICT')
  const url = pathToFileURL(`${folder.path}/`)
  migrate(db, url, 'x.db')
  db.exec('INSERT INTO a VALUES (7)')
  writeFileSync(join(folder.path, '002-b.sql'), 'CREATE TABLE b (x INT) STRICT; DELETE FROM a')
  writeFileSync(join(folder.path, '003-c.sql'), 'CREATE TABLE c (x INT) STRICT; nonsense')
  expect(() => migrate(db, url, 'x.db')).toThrow('nonsense')
  expect(schemaVersion(db)).toBe(1)
  expect(tables(db)).toEqual(['a'])
  expect(db.prepare('SELECT x FROM a').all()).toEqual([{ x: 7 }])
  writeFileSync(join(folder.path, '003-c.sql'), 'CREATE TABLE c (x INT) STRICT')
  migrate(db, url, 'x.db')
  expect(schemaVersion(db)).toBe(3)
  db.close()
})

test.for(['readings.db', 'garden.db', 'watch.db'])(
  'a %s of a newer version is refused untouched',
  async (name) => {
    using folder = tempDir()
    await (await openStores(folder.path)).close()
    const file = join(folder.path, name)
    const db = new DatabaseSync(file)
    const own = schemaVersion(db)
    db.exec('PRAGMA user_version = 900')
    db.close()
    await expect(openStores(folder.path)).rejects.toMatchObject({
      code: 'HUB_STORE_UNAVAILABLE',
      message: expect.stringMatching(new RegExp(`${name} was written by a newer .* number 900`)),
    })
    const again = new DatabaseSync(file)
    expect(schemaVersion(again)).toBe(900)
    again.exec(`PRAGMA user_version = ${own}`)
    again.close()
    // The refused attempt let the folder go.
    await (await openStores(folder.path)).close()
  },
)
